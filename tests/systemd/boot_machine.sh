#!/bin/bash
# boot_machine.sh CGROUP LOWER FOLDER [BROUGHT…]: systemd as PID 1, on layers LOWER below FOLDER/upper.
set -eu

if [ "${UNDERSTUDY_UNSHARED:-}" != yes ]; then
  echo $$ >"$1/cgroup.procs"
  export UNDERSTUDY_UNSHARED=yes
  exec unshare --mount --pid --fork --kill-child --cgroup --ipc --uts --net bash "$0" "$@"
fi

lower=$2 folder=$3
shift 3
root=$folder/root
mount --make-rprivate /
mount -t overlay overlay -o "lowerdir=$lower,upperdir=$folder/upper,workdir=$folder/work" "$root"
mount -t proc proc "$root/proc"
mount --bind "$root/proc/sys" "$root/proc/sys"
mount -o remount,bind,ro "$root/proc/sys" # the kernel's settings are this machine's
mount -t sysfs -o ro sysfs "$root/sys"
mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup"
mount -t tmpfs -o mode=755 tmpfs "$root/run"
mkdir -p "$root/run/systemd/system"
ln -s /dev/null "$root/run/systemd/system/systemd-modules-load.service" # the kernel is ours
mount -t tmpfs -o mode=1777 tmpfs "$root/tmp"
mount -t tmpfs -o mode=755 tmpfs "$root/dev"
for device in null zero full random urandom tty; do
  touch "$root/dev/$device"
  mount --bind "/dev/$device" "$root/dev/$device"
done
mkdir "$root/dev/shm" "$root/dev/pts"
mount -t tmpfs tmpfs "$root/dev/shm"
mount -t devpts -o newinstance,ptmxmode=0666 devpts "$root/dev/pts"
ln -s pts/ptmx "$root/dev/ptmx"
ln -s /proc/self/fd "$root/dev/fd"
for brought in "$@"; do
  there=$root/brought/$(basename "$brought")
  mkdir -p "$there"
  mount --bind "$brought" "$there"
  mount -o remount,bind,ro "$there"
done
hostname understudy-test
cd "$root"
mkdir -p before
pivot_root . before
umount -l /before
exec env -i container=other PATH=/usr/sbin:/usr/bin:/sbin:/bin /lib/systemd/systemd
