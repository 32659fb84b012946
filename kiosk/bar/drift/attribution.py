"""Grinder or hands: which of them a change in a row of pulls belongs to.

Two kinds of story are weighed against each other and against no change at all: from some pull on everybody's pulls run
slower or faster (at once, or more and more), or one person's alone do. In each, every person has a lean of their own
that was always there, so that a change of shift is no change of the grinder. All are linear models with normal priors,
compared by their marginal likelihoods (Raftery, Sociological Methodology 25, 1995, for why that is fair to each).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log

GRINDER, HANDS, NONE = "grinder", "hands", "none"
LEAN = 0.6          # a person's lean, in spreads: 3–5 % of the time (common practice)
MOVE = 2.5          # how large a change is, in spreads
CENTRE = 6.0        # where the pulls lie before it
ODD_AT = 3.5        # a pull further than this from the middle of its own pulls says no more
LEAST_AFTER = 3     # pulls that a change has to have touched
PLACES = 60         # moments at which a change may have come, at most; between them it is looked at no closer
BEFOREHAND = {GRINDER: 0.45, HANDS: 0.35, NONE: 0.2}    # before looking (from memory)


@dataclass(frozen=True, slots=True)
class Attributed:
    """`cause`: grinder, hands or none, with its `probability`. `since`: index of the first pull that it touched; `who`:
    the person, where it is hands; `by`: how much their pulls, or everybody's, changed, in the unit of the pulls. `shares`:
    the probability of each cause; none where there were too few pulls to look."""

    cause: str
    probability: float
    since: int = 0
    who: str | None = None
    by: float = 0.0
    shares: tuple[tuple[str, float], ...] = ()


def attribute(pulls: Sequence[tuple[float, str | None]], spread: float,
              leans: Mapping[str, float] | None = None) -> Attributed:
    """`pulls` are (how far off, who), oldest first, less what was known of each person's lean before; `leans` is how
    far that may be off (standard deviation), by name; `spread` is that of a single pull. All in one unit."""
    people = list(dict.fromkeys(who for _, who in pulls))
    if len(pulls) < 2 * LEAST_AFTER or spread <= 0:
        return Attributed(NONE, 1.0)
    index = [people.index(who) for _, who in pulls]
    values = _held(pulls, people, spread)
    size = len(people) + 2
    widths = [min(LEAN, (leans or {}).get(who or "", LEAN * spread) / spread) for who in people]
    prior = [1 / CENTRE**2, *(1 / max(width, 0.02)**2 for width in widths), 1 / MOVE**2]
    plain = [[0.0] * size for _ in range(size)]
    answer = [0.0] * size
    for at, value in zip(index, values):
        plain[0][0] += 1
        plain[0][at + 1] += 1
        plain[at + 1][0] += 1
        plain[at + 1][at + 1] += 1
        answer[0] += value
        answer[at + 1] += value
    still, _ = _evidence(plain, answer, prior[:-1])
    stories: list[tuple[float, str, int, str | None, float]] = [(still, NONE, 0, None, 0.0)]
    step = max(1, len(pulls) // PLACES)
    for since in range(LEAST_AFTER, len(pulls) - LEAST_AFTER + 1, step):
        after = range(since, len(pulls))
        length = len(pulls) - since
        shapes: list[tuple[str, str | None, list[tuple[int, float]]]] = [
            (GRINDER, None, [(n, 1.0) for n in after]),
            (GRINDER, None, [(n, 2 * (n - since + 1) / length) for n in after])]
        named = [who for who in people if who is not None] if len(people) > 1 else []
        shapes += [(HANDS, who, [(n, 1.0) for n in after if people[index[n]] == who]) for who in named]
        for cause, who, touched in shapes:
            if len(touched) < LEAST_AFTER:
                continue
            matrix, right = [row[:] for row in plain], answer[:]
            for n, weight in touched:
                matrix[-1][-1] += weight * weight
                for at in (0, index[n] + 1):
                    matrix[-1][at] += weight
                    matrix[at][-1] += weight
                right[-1] += weight * values[n]
            found, by = _evidence(matrix, right, prior)
            stories.append((found, cause, since, who, by))
    return _weighed(stories, spread)


def _weighed(stories: list[tuple[float, str, int, str | None, float]], spread: float) -> Attributed:
    top = max(found for found, *_ in stories)
    shares = {}
    for cause in (GRINDER, HANDS, NONE):
        own = [exp(found - top) for found, kind, *_ in stories if kind == cause]
        shares[cause] = BEFOREHAND[cause] * sum(own) / len(own) if own else 0.0
    total = sum(shares.values())
    cause = max(shares, key=lambda each: shares[each])
    best = max((story for story in stories if story[1] == cause), key=lambda story: story[0])
    return Attributed(cause, shares[cause] / total, best[2], best[3], best[4] * spread,
                      tuple((each, share / total) for each, share in shares.items()))


def _held(pulls: Sequence[tuple[float, str | None]], people: list[str | None], spread: float) -> list[float]:
    """The pulls in spreads; odd ones are held near the middle of what was pulled about that time."""
    found = []
    for n, (value, _) in enumerate(pulls):
        near = sorted(each for each, _ in pulls[max(0, n - 6):n + 7])
        middle = near[len(near) // 2]
        off = max(-ODD_AT, min(ODD_AT, (value - middle) / spread))
        found.append(middle / spread + off)
    return found


def _evidence(matrix: list[list[float]], right: list[float], prior: list[float]) -> tuple[float, float]:
    """(logarithm of the marginal likelihood up to a constant, the last coefficient) of a linear model whose normal
    equations these are, its noise of spread one; `prior`: precision of each coefficient: centre, leans, change."""
    size = len(prior)
    rows = [[*matrix[i][:size], right[i]] for i in range(size)]
    for i in range(size):
        rows[i][i] += prior[i]
    determinant = 0.0
    for i in range(size):                       # the matrix is positive definite: no pivoting
        determinant += log(rows[i][i] / prior[i])
        for j in range(i + 1, size):
            share = rows[j][i] / rows[i][i]
            if share:
                for k in range(i, size + 1):
                    rows[j][k] -= share * rows[i][k]
    solved = [0.0] * size
    for i in reversed(range(size)):
        solved[i] = (rows[i][size] - sum(rows[i][k] * solved[k] for k in range(i + 1, size))) / rows[i][i]
    return 0.5 * (sum(b * x for b, x in zip(right, solved)) - determinant), solved[-1]
