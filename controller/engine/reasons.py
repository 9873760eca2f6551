"""Why a ring was missed (design rule 7), in the words that people are told everywhere."""

MISSED_WHY = {
    "late": "nobody could ring it in time",
    "off": "the controller was off",
    "untrusted": "the clock was not trusted",
    "supply": "the supply had no current to spare within grace",
    "longest": "its sounding had reached its longest",
    "a-minute": "the zone had sounded all that a minute allows",
    "quiet": "quiet was ordered",
    "panel": "the panel's switch is at quiet",
    "relay": "its relay did not answer",
}
