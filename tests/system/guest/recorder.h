/* SPDX-License-Identifier: GPL-2.0-or-later */
/*
 * Writes every change of every line down at the instant at which the chip's level changes, in the
 * kernel, so none is too short to be seen. It goes to qemu's debug port, byte by byte, and is outside
 * the guest before the chip's caller goes on: no death of the guest can lose it.
 *
 * A line of text each: WHAT LINE LEVEL MONOTONIC REALTIME (ns), where WHAT is
 *   begin   the chip is there (LINE is how many lines it has)
 *   level   a line has another level now, whoever drives it
 *   out     a line has become an output
 *   in      a line has become an input
 *   tick    nothing: the guest's clocks now, every 20 ms, so that it is known when its power went
 */
#include <linux/hrtimer.h>
#include <linux/io.h>
#include <linux/module.h>
#include <linux/spinlock.h>
#include <linux/timekeeping.h>

#define RECORDER_PORT 0xe9
#define TICK_NS (20 * NSEC_PER_MSEC)

static bool keeps_level = true;
module_param(keeps_level, bool, 0644);
MODULE_PARM_DESC(sticky, "a line keeps its level when its holder lets go");

#define MOST_WIRES 8
static int wired_from[MOST_WIRES];
static int wired_to[MOST_WIRES];
static int wires_from, wires_to;
module_param_array(wired_from, int, &wires_from, 0644);
module_param_array(wired_to, int, &wires_to, 0644);
MODULE_PARM_DESC(wired_from, "outputs whose level an input follows; -1 cuts the wire");
MODULE_PARM_DESC(wired_to, "the inputs, in the same order");

/* As on the board, before anybody claims a line: 0 to 8 are pulled up. */
#define PULLED_UP 9

static DEFINE_RAW_SPINLOCK(recorder_lock);

static void record(const char *what, unsigned int line, int level)
{
	char text[80];
	unsigned long flags;
	int i, length;

	raw_spin_lock_irqsave(&recorder_lock, flags);
	length = scnprintf(text, sizeof(text), "%s %u %d %lld %lld\n", what, line, level,
			   ktime_get_ns(), ktime_get_real_ns());
	for (i = 0; i < length; i++)
		outb(text[i], RECORDER_PORT);
	raw_spin_unlock_irqrestore(&recorder_lock, flags);
}

static void assign_recorded(unsigned int line, unsigned long *levels, int level)
{
	if (level == !!test_bit(line, levels))
		return;
	__assign_bit(line, levels, level);
	record("level", line, level);
}

static struct hrtimer recorder_timer;

static enum hrtimer_restart recorder_tick(struct hrtimer *timer)
{
	record("tick", 0, 0);
	hrtimer_forward_now(timer, ns_to_ktime(TICK_NS));
	return HRTIMER_RESTART;
}

static void begin_record(unsigned int lines)
{
	record("begin", lines, keeps_level);
	hrtimer_init(&recorder_timer, CLOCK_MONOTONIC, HRTIMER_MODE_REL_HARD);
	recorder_timer.function = recorder_tick;
	hrtimer_start(&recorder_timer, ns_to_ktime(TICK_NS), HRTIMER_MODE_REL_HARD);
}
