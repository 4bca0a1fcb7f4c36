"""How far one spelling is from another, and the likeliest word behind a slip of the finger. Pure.

>>> distance("sqaut", "squat")
1
>>> likeliest("plnak", ["plan", "plank", "planks"])
'plank'
"""

from collections.abc import Sequence


def distance(typed: str, word: str) -> int:
    """Letters added, left out, mistaken or swapped with their neighbour: the optimal string alignment distance."""
    above: list[int] = []
    row = list(range(len(word) + 1))
    for i, letter in enumerate(typed, start=1):
        before, above = above, row
        row = [i]
        for j, other in enumerate(word, start=1):
            cost = min(above[j] + 1, row[j - 1] + 1, above[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == word[j - 2] and typed[i - 2] == other:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
    return row[-1]


def slips(typed: str) -> int:
    """How many slips a word of this length may hold and still be read as another."""
    if len(typed) < 3:
        return 0
    return 1 if len(typed) <= 4 else 2 if len(typed) <= 8 else 3


def likeliest(typed: str, words: Sequence[str]) -> str | None:
    """The word with the fewest slips, the first of `words` among equals; None when none is near enough.

    Words of the same first letter come before others: the first letter is the one that is seldom wrong.
    """
    near = [
        (distance(typed, word), word[:1] != typed[:1], place, word)
        for place, word in enumerate(words)
        if abs(len(word) - len(typed)) <= slips(typed)
    ]
    near = [one for one in near if one[0] <= slips(typed)]
    return min(near)[3] if near else None
