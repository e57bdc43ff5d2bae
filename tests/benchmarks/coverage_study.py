"""How often the 95 % interval holds the truth, on random histories whose truth is known.

    python tests/benchmarks/coverage_study.py          4,000 histories a situation, as a table

The simulator draws truths, instruments, readings and roundings by itself and calls the archive only as
a person would: to say what was read, with what, and to ask for the figure. Beside each history it draws
what is left open, straight from the definition (JCGM 101:2008, 7.7): the width to be compared with.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from archive.metrology.adjustment import adjust
from archive.metrology.agreement import combine
from archive.metrology.checks import Check, error_of_day, error_of_steady
from archive.metrology.coverage import interval_95
from archive.metrology.readings import Limits, reading, repeats, unchecked
from archive.metrology.sources import Doubtful, Source
from archive.metrology.tape_runs import parse_run, run_sizes

HISTORIES = 4000
SEED = 20260417
_DRAWS = 20_000
_COMPARED = 100  # histories of a situation whose width is compared with drawing

Rng = np.random.Generator
# The truth, the figure given for it, and a draw of what the history leaves open about the truth.
History = tuple[float, Doubtful, Callable[[Rng], np.ndarray]]


@dataclass(frozen=True)
class Situation:
    name: str
    normal_dominates: bool
    history: Callable[[Rng], History]


@dataclass(frozen=True)
class Outcome:
    situation: Situation
    histories: int
    held: float  # share of intervals that held the truth
    width_ratio: float  # mean width over the mean width of the drawn intervals


def rounded(value: float, step: float) -> float:
    return float(np.round(value / step) * step)


def flat(rng: Rng, half_width: float, size: int | None = None) -> np.ndarray:
    return rng.uniform(-half_width, half_width, size)


def rounding_alone(rng: Rng) -> History:
    truth = rng.uniform(500, 5000)
    read = rounded(truth, 10)
    figure = reading(read, of_record="r", resolution_mm=10)
    return truth, figure, lambda g: read + flat(g, 5, _DRAWS)


def unchecked_tape(rng: Rng) -> History:
    truth, a, b = rng.uniform(500, 5000), flat(rng, 1.0), flat(rng, 0.0006)
    read = rounded(truth * (1 + b) + a, 1)
    tape = unchecked(Limits(1.0, 0.0006), "tape")
    figure = reading(read, of_record="r", resolution_mm=1, instrument=tape)
    return (
        truth,
        figure,
        lambda g: read + flat(g, 0.5, _DRAWS) - flat(g, 1.0, _DRAWS) - read * flat(g, 0.0006, _DRAWS),
    )


def unchecked_phone(rng: Rng) -> History:
    truth, b = rng.uniform(500, 5000), flat(rng, 0.04)
    read = rounded(truth * (1 + b), 10)
    phone = unchecked(Limits(0.0, 0.04), "phone", "a day")
    figure = reading(read, of_record="r", resolution_mm=10, instrument=phone)
    return truth, figure, lambda g: (read + flat(g, 5, _DRAWS)) / (1 + flat(g, 0.04, _DRAWS))


def one_check(rng: Rng) -> History:
    """A tape that is off by more than it should be at any length, and whose scale is within its limits."""
    a, b = rng.normal(0, 10), flat(rng, 0.0006)
    known, truth = rng.uniform(1000, 4000), rng.uniform(500, 5000)
    reference = known + rng.normal(0, 0.5)
    checked_at = rounded(known + a + b * known, 1)
    read = rounded(truth + a + b * truth, 1)
    one = Check("c", Doubtful(reference, {Source("reference", "ref"): 0.5}), checked_at, 1)
    checked = error_of_steady([one], instrument="tape", limits=Limits(1.0, 0.0006))
    figure = reading(read, of_record="r", resolution_mm=1, instrument=checked.error)

    def drawn(g: Rng) -> np.ndarray:
        offset = checked_at + flat(g, 0.5, _DRAWS) - reference - g.normal(0, 0.5, _DRAWS)
        away = flat(g, 0.0006, _DRAWS) * (read - reference)
        return read + flat(g, 0.5, _DRAWS) - offset - away

    return truth, figure, drawn


def five_checks(rng: Rng) -> History:
    """A tape that reads to its step: nothing but the steps and the references is left open."""
    a, b = rng.normal(0, 5), rng.normal(0, 0.002)
    truth = rng.uniform(800, 4500)
    known = np.sort(rng.uniform(500, 5000, 5))
    references = known + rng.normal(0, 0.8, 5)
    reads = [rounded(k + a + b * k, 1) for k in known]
    read = rounded(truth + a + b * truth, 1)
    checks = [
        Check(f"c{n}", Doubtful(float(r), {Source("reference", f"ref{n}"): 0.8}), said, 1)
        for n, (r, said) in enumerate(zip(references, reads, strict=True))
    ]
    checked = error_of_steady(checks, instrument="tape")
    figure = reading(read, of_record="r", resolution_mm=1, instrument=checked.error)

    return truth, figure, lambda g: _about_the_line(g, references, reads, read)


def five_checks_that_scatter(rng: Rng) -> History:
    """Each reading of this tape also scatters by 2 mm, which no limit says: the checks must show it."""
    a, b = rng.normal(0, 5), rng.normal(0, 0.002)
    truth = rng.uniform(800, 4500)
    known = np.sort(rng.uniform(500, 5000, 5))
    references = known + rng.normal(0, 0.3, 5)
    reads = [rounded(k + a + b * k + rng.normal(0, 2), 1) for k in known]
    read = rounded(truth + a + b * truth + rng.normal(0, 2), 1)
    checks = [
        Check(f"c{n}", Doubtful(float(r), {Source("reference", f"ref{n}"): 0.3}), said, 1)
        for n, (r, said) in enumerate(zip(references, reads, strict=True))
    ]
    checked = error_of_steady(checks, instrument="tape")
    figure = reading(read, of_record="r", resolution_mm=1, instrument=checked.error)

    return truth, figure, lambda g: _about_the_line(g, references, reads, read)


def _about_the_line(g: Rng, references: np.ndarray, reads: list[float], read: float) -> np.ndarray:
    """Student's law of a new observation about a line fitted to five (three degrees of freedom)."""
    slope, intercept = np.polyfit(references, reads, 1)
    s2 = ((np.array(reads) - slope * references - intercept) ** 2).sum() / 3
    length = (read - intercept) / slope
    spread = np.sqrt(s2 * (1 + 0.2 + (length - references.mean()) ** 2 / (5 * references.var())))
    return length + spread / slope * g.standard_t(3, _DRAWS)


def repeated(rng: Rng) -> History:
    """Three to eight readings with one tape, to the millimetre, that scatter by one to three."""
    truth, offset = rng.uniform(500, 5000), flat(rng, 1.3)
    scatter, n = rng.uniform(1.0, 3.0), int(rng.integers(3, 9))
    reads = [rounded(truth + offset + rng.normal(0, scatter), 1) for _ in range(n)]
    limits = Limits(1.3)
    taken = repeats(
        reads, of_record="d", resolution_mm=1, instrument=unchecked(limits, "tape"), limits=Limits(20.0)
    )

    def drawn(g: Rng) -> np.ndarray:
        mean, s = np.mean(reads), np.std(reads, ddof=1) / np.sqrt(n)
        own = flat(g, 0.5, _DRAWS) if s < 1 / np.sqrt(12) else s * g.standard_t(n - 1, _DRAWS)
        return mean + own - flat(g, 1.3, _DRAWS)

    return truth, taken.result, drawn


def agreeing(rng: Rng) -> History:
    """Two to ten independent readings whose doubts are as stated."""
    truth, n = rng.uniform(500, 5000), int(rng.integers(2, 11))
    u = rng.uniform(1, 8, n)
    reads = truth + rng.normal(0, u)
    combined = combine(
        [
            Doubtful(float(x), {Source("own", f"r{k}"): float(s)})
            for k, (x, s) in enumerate(zip(reads, u, strict=True))
        ],
        of_record="d",
    )
    weights = 1 / u**2 / (1 / u**2).sum()

    def drawn(g: Rng) -> np.ndarray:
        return weights @ reads + g.normal(0, (1 / u**2).sum() ** -0.5, _DRAWS)

    return truth, combined.result, drawn


def one_tape_and_another(rng: Rng) -> History:
    """Readings of which all but one lean on one tape."""
    truth, n = rng.uniform(1000, 5000), int(rng.integers(3, 7))
    own, common = rng.uniform(1, 4), rng.normal(0, 5)
    reads = [truth + common + rng.normal(0, own) for _ in range(n - 1)] + [truth + rng.normal(0, 6)]
    numbers = [
        Doubtful(x, {Source("own", f"r{k}"): own, Source("offset", "tape"): 5.0})
        for k, x in enumerate(reads[:-1])
    ]
    combined = combine([*numbers, Doubtful(reads[-1], {Source("own", "last"): 6.0})], of_record="d")
    first = 25 + own**2 / (n - 1)
    share = 36 / (36 + first)
    mean = share * np.mean(reads[:-1]) + (1 - share) * reads[-1]
    return truth, combined.result, lambda g: mean + g.normal(0, (1 / first + 1 / 36) ** -0.5, _DRAWS)


def run_of_a_tape(rng: Rng) -> History:
    """A size between two positions of a hooked tape, read to 5 mm."""
    hook, scale = flat(rng, 2.0), flat(rng, 0.002)
    places = np.sort(rng.uniform(200, 5000, 4))
    while np.diff(places).min() < 20:
        places = np.sort(rng.uniform(200, 5000, 4))
    said = [rounded(p * (1 + scale) + hook, 5) for p in places]
    run = parse_run("0; " + "; ".join(f"p{n} {s:.0f} mm" for n, s in enumerate(said)))
    tape = unchecked(Limits(2.0, 0.002), "tape")
    sizes = run_sizes(run, of_record="run", instrument=tape, resolution_mm=5)
    which = int(rng.integers(0, 4))
    edges, read = [0.0, *places.tolist()], [0.0, *said]
    truth, span = edges[which + 1] - edges[which], read[which + 1] - read[which]

    def drawn(g: Rng) -> np.ndarray:
        own = flat(g, 2.5, _DRAWS) + (flat(g, 2.5, _DRAWS) if which else -flat(g, 2.0, _DRAWS))
        return span + own - span * flat(g, 0.002, _DRAWS)

    return truth, sizes[which], drawn


def tallied(rng: Rng) -> History:
    """Three bays and their overall, each measured, that must come out."""
    bays, u = rng.uniform(800, 3000, 3), rng.uniform(1, 6, 4)
    truths = np.append(bays, bays.sum())
    reads = truths + rng.normal(0, u)
    numbers = [
        Doubtful(float(x), {Source("own", f"r{k}"): float(s)})
        for k, (x, s) in enumerate(zip(reads, u, strict=True))
    ]
    adjusted = adjust(numbers, [[1, 1, 1, -1]], [0], of_record="t")
    which = int(rng.integers(0, 4))

    def drawn(g: Rng) -> np.ndarray:
        # The free bays by weighted least squares, from the definition.
        design = np.vstack([np.eye(3), np.ones(3)])
        covariance = np.linalg.inv(design.T @ np.diag(u**-2) @ design)
        best = design @ covariance @ design.T @ np.diag(u**-2) @ reads
        spread = np.sqrt((design @ covariance @ design.T)[which, which])
        return best[which] + g.normal(0, spread, _DRAWS)

    return float(truths[which]), adjusted.sizes[which], drawn


def _three_days(rng: Rng) -> tuple[np.ndarray, list[Check], float]:
    """A phone with an error of its own each day, checked on the first two; and the size to be read."""
    scales = rng.normal(0, 0.02, 3)
    checks = [
        Check(
            f"c{d}",
            Doubtful(2000.0, {Source("reference", "wall"): 0.5}),
            rounded(2000 * (1 + scales[d]), 10),
            10,
            str(d),
        )
        for d in range(2)
    ]
    return scales, checks, rng.uniform(1000, 4000)


PHONE = Limits(0.0, 0.04)


def phone_on_a_checked_day(rng: Rng) -> History:
    scales, checks, truth = _three_days(rng)
    read = rounded(truth * (1 + scales[1]), 10)
    error = error_of_day(checks, "1", instrument="phone", limits=PHONE).error
    figure = reading(read, of_record="r", resolution_mm=10, instrument=error)
    off = checks[1].reading_mm - 2000

    def drawn(g: Rng) -> np.ndarray:
        at_check = off + flat(g, 5, _DRAWS) - g.normal(0, 0.5, _DRAWS)
        return read + flat(g, 5, _DRAWS) - at_check - (read - off - 2000) * _between_days(g, checks)

    return truth, figure, drawn


def phone_on_the_third_day(rng: Rng) -> History:
    scales, checks, truth = _three_days(rng)
    read = rounded(truth * (1 + scales[2]), 10)
    error = error_of_day(checks, "2", instrument="phone", limits=PHONE).error
    figure = reading(read, of_record="r", resolution_mm=10, instrument=error)
    return truth, figure, lambda g: read + flat(g, 5, _DRAWS) - read * _between_days(g, checks)


def _between_days(g: Rng, checks: list[Check]) -> np.ndarray:
    """The scale of a day: normal, its spread known from the limits as from eight days and from two seen."""
    seen = [(c.reading_mm - 2000) / 2000 for c in checks]
    spread = np.sqrt((8 * 0.04**2 / 3 + sum(e * e for e in seen)) / 10)
    return spread * g.standard_t(10, _DRAWS)


SITUATIONS = (
    Situation("rounding alone, steps of 10 mm", False, rounding_alone),
    Situation("tape, unchecked", False, unchecked_tape),
    Situation("phone, unchecked", False, unchecked_phone),
    Situation("tape, one check", False, one_check),
    Situation("tape, five checks", False, five_checks),
    Situation("tape, five checks that scatter", False, five_checks_that_scatter),
    Situation("three to eight repeats with one tape", False, repeated),
    Situation("two to ten readings, doubts as stated", True, agreeing),
    Situation("several readings with one tape, one without", True, one_tape_and_another),
    Situation("a tape's run, steps of 5 mm", False, run_of_a_tape),
    Situation("tally of three bays", True, tallied),
    Situation("phone over three days, checked day", False, phone_on_a_checked_day),
    Situation("phone over three days, day without check", False, phone_on_the_third_day),
)


def study(situation: Situation, histories: int = HISTORIES, seed: int = SEED) -> Outcome:
    """Draw the histories of one situation and count how many intervals hold the truth."""
    rng = np.random.default_rng([seed, SITUATIONS.index(situation)])
    held, widths, drawn_widths = 0, [], []
    for n in range(histories):
        truth, figure, drawn = situation.history(rng)
        low, high = interval_95(figure)
        held += low <= truth <= high
        if n < _COMPARED:
            widths.append(high - low)
            drawn_widths.append(np.subtract(*np.quantile(drawn(rng), [0.975, 0.025])))
    return Outcome(situation, histories, held / histories, float(np.mean(widths) / np.mean(drawn_widths)))


def table(outcomes: list[Outcome]) -> str:
    """The outcomes as rows for the developers' page."""
    rows = ["| situation | histories | held the truth | width / drawn width |", "| --- | --- | --- | --- |"]
    rows += [
        f"| {o.situation.name} | {o.histories:,} | {o.held:.1%} | {o.width_ratio:.2f} |" for o in outcomes
    ]
    return "\n".join(rows)


if __name__ == "__main__":
    print(table([study(situation) for situation in SITUATIONS]))
