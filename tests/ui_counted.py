"""One hand on the keyboard, every key it presses counted against a task; and how many each task may take."""

from __future__ import annotations

MOST_KEYS = {
    "a warm value held, from the first question": 24,
    "the real sensor now": 1,
    "anything felt answered": 1,
    "a case begun, the recording filed in it": 8,
    "weighed": 1,
    "the next drive begun": 1,
    "one open given": 10,
    "a kick-out's cause said": 1,
    "home again": 1,
    "a new recording": 1,
    "the defect written down": 20,
    "the repair written down": 12,
    "both pages written": 1,
    "exported": 1,
    "left": 1,
}
"""Task of a whole case -> keys it may take, words typed among them. Told on a failure, and by ``-s``."""
PREPARED_KEYS = {
    "the cautions read": 2,
    "the module measured, from another place": 17,
    "lines and states named, two states": 14,
    "a state said as it comes": 1,
    "a wrong saying taken back": 1,
    "what was learned looked at": 1,
    "what was learned used": 1,
    "a plan chosen": 10,
    "the board looks at itself": 1,
    "the sensor told by two readings": 27,
    "the next missing row, and its way": 2,
}
"""The same of what is prepared before a drive."""


class Hand:
    """One hand on the keyboard; ``most`` is the table its tasks stand in."""

    def __init__(self, pilot, most: dict[str, int] | None = None) -> None:
        self.pilot = pilot
        self.most = MOST_KEYS if most is None else most
        self.counted: dict[str, int] = {}

    async def does(self, task: str, *keys: str) -> None:
        assert task in self.most
        self.counted[task] = self.counted.get(task, 0) + len(keys)
        await self.pilot.press(*keys)

    def check(self) -> None:
        """No task that was done took more keys than it may."""
        print("\n".join(f"{n:4d} keys of {self.most[t]:3d}  {t}" for t, n in self.counted.items()))
        assert all(n <= self.most[task] for task, n in self.counted.items()), self.counted
