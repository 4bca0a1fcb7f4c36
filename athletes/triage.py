"""What pain, soreness, symptoms and illness mean for a day's training (rules T1 to T5). Pure: values in, values out.

These rules come before all others. They are gates, not a diagnosis, and their numbers are to be confirmed by the club's
clinician. A report that was not answered is never read as good news (H3).

T1  The score is the higher of during and the next morning. 0 to 2: carry on. 3: repeat. 4 or 5: ease what loads the
    site. 6 or more: what loads the site stops, and a coach looks the same day. The next morning 2 or more above during:
    ease. Next morning not answered: no rise. 8 or more, a pop, swelling or not bearing weight: everything stops, and a
    coach looks at once. The newest report of a site counts, for 14 days; 3 or more in that time bars a rise; a stop
    lasts until T5 ends it. S: pain-monitoring model, Thomeé 1997 and Silbernagel 2007, one Achilles trial; other sites
    by extrapolation, and the details are ours.
T2  3 or more on three days in 14, or a rise of 2 within 14 days that reaches 3: a coach looks by the next day, and no
    rise until that matter is closed (ours). A long-standing pain that a clinician has seen has a baseline, at most 5:
    scores up to it, reported as long-standing, repeat instead of ease, and call nobody. It counts until its review, at
    most 6 weeks off; then the usual rules return, and a coach is asked for the review (ours).
T3  Soreness is not pain: on both sides, in the muscle, after new work, easing on moving. Within 72 h and below 6:
    repeat. 6 or more, longer, or not said: half the sets, or a repeat where the region is loaded only a little; it
    counts for 7 days. One-sided, at a joint or tendon, at night, unsure, with a sign, 8 or more, or under 18 at heel,
    shin, hip or back: read as pain (ours).
T4  A warning symptom stops everything until its clearance is recorded; a coach is told at once. S: public health
    services and concussion guidance name these categories (most from memory). A crash or surgery stops everything until
    a coach has recorded that it is over. Numbness only on the bike that clears quickly: a coach looks by the next day
    (ours).
T5  After a stop: a coach's recorded outcome that allows it, and reports of 2 or less that span 7 days; then the site
    comes back in steps, which the engine takes (ours). Outcomes *pause* and *referred* stop the site; *ease* eases it
    for 14 days.
P10 Fever or chest signs: nothing until it has been over for 48 h, then half the sets, and no rise in the first two
    sessions. Other illness: half the sets until it is over, then two sessions without a rise (ours).

>>> report = BodyReport(on=date(2026, 3, 2), region=Region.KNEE, side=Side.LEFT, during=4, next_morning=3)
>>> state = assess([report], [], [], [], on=date(2026, 3, 3), under_18=False)
>>> gate_for(frozenset({Region.KNEE}), frozenset(), state)[0].name
'EASE'
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from athletes import sites, soreness
from athletes.concerns import (
    Baseline,
    BodyReport,
    BodyState,
    Concern,
    Event,
    Gate,
    Matter,
    SiteGate,
    SiteReturn,
    SymptomReport,
    Topic,
    Urgency,
)
from athletes.findings import Finding
from athletes.sites import Site, check_scores, may_return, site_of
from athletes.soreness import classify
from athletes.vocabulary import Figure, Reason, Region, Side

__all__ = ["assess", "classify", "gate_for", "may_return", "returned_on", "sites_to_ask"]

#: By calendar days, 48 h are surely over on the third day after the one on which it ended.
CLEAR_FROM_DAYS = 3
CLEAR_HOURS = 48
SESSIONS_WITHOUT_RISE = 2
#: Past this, P10 has the rider learn again, and the illness has no more to say.
EASING_ENDS_DAYS = 56

REASONS: dict[str, str] = {
    **soreness.REASONS,
    **sites.REASONS,
    "symptom-stop": "{symptom} reported on {on}: everything stops until clearance is recorded.",
    "crash-stop": "Crash on {on}: everything stops until a coach records that it is over, with a new health screening.",
    "surgery-stop": "Surgery on {on}: everything stops until clearance is recorded, with a new health screening.",
    "numbness-on-bike": "Numbness on the bike that cleared quickly, reported on {on}: look at position and saddle, "
    "and ask whether it has come back.",
    "fever-stop": "Fever or chest signs reported on {on}: nothing until {hours} h after it is over.",
    "fever-easing": "Fever or chest signs over on {over_on}: half the sets and no rise for {sessions} sessions.",
    "illness-easing": "Illness reported on {on}: half the sets and no rise until it is over.",
    "illness-over": "Illness over on {over_on}: no rise for {sessions} sessions.",
}


# --- the state of a day -----------------------------------------------------------------------------------------------


def assess(
    reports: Sequence[BodyReport],
    symptoms: Sequence[SymptomReport],
    matters: Sequence[Matter],
    baselines: Sequence[Baseline],
    *,
    on: date,
    under_18: bool,
    sessions_done: Sequence[date] = (),
) -> BodyState:
    """What everything reported so far allows on the day `on`, and what a coach must look at.

    The whole history is wanted, since a stop lasts until its return (T5); a report dated later than `on` counts as of
    `on`. `sessions_done` are the days of sessions done, which end the easing after an illness (P10). Days, not times,
    are compared: a matter closed on the day of a report has answered it. Whoever records a new report on a day on
    which a matter was closed leaves that matter out, so that the new report calls a coach again. Raises `ValueError`
    for a score outside 0 to 10.
    """
    check_scores(reports)
    body = _Gathering()
    for region in Region:
        body.add_region(region, reports, matters, baselines, on=on, under_18=under_18)
    for report in symptoms:
        body.add_symptom(report, on=on, sessions_done=sessions_done)
    return body.state()


class _Gathering:
    """Collects what each site and symptom says into one `BodyState`."""

    def __init__(self) -> None:
        self.gates: list[SiteGate] = []
        self.returns: list[SiteReturn] = []
        self.concerns: list[Concern] = []
        self.reasons: list[Reason] = []
        self.stops_everything = False
        self.halves_everything = False
        self.rises_barred = False

    def add_region(
        self,
        region: Region,
        reports: Iterable[BodyReport],
        matters: Iterable[Matter],
        baselines: Iterable[Baseline],
        *,
        on: date,
        under_18: bool,
    ) -> None:
        """Add both sides of a region, as one when the same holds for both."""
        here = [one for one in reports if one.region is region]
        open_here = [one for one in matters if one.region is region]
        held = [one for one in baselines if one.region is region]
        if not (here or open_here or held):
            return
        left, right = (
            site_of(side, here, open_here, held, on=on, under_18=under_18) for side in (Side.LEFT, Side.RIGHT)
        )
        sides = ((Side.BOTH, left),) if left == right else ((Side.LEFT, left), (Side.RIGHT, right))
        for side, site in sides:
            self._add_site(region, side, site)

    def _add_site(self, region: Region, side: Side, site: Site) -> None:
        def say(findings: Iterable[Finding]) -> tuple[Reason, ...]:
            return tuple(finding.reason(region, side) for finding in findings)

        if site.findings:
            self.gates.append(SiteGate(region, side, site.gate, say(site.findings)))
        if site.returning_since is not None:
            back = Reason(
                "T5",
                "return-steps",
                {"region": region.value, "side": side.value, "since": site.returning_since.isoformat()},
            )
            self.returns.append(SiteReturn(region, side, site.returning_since, (back,)))
        if site.calls:
            urgency = max(urgency for urgency, _finding in site.calls)
            why = say(dict.fromkeys(finding for _urgency, finding in site.calls))
            self.concerns.append(Concern(Topic.PAIN, urgency, why, region, side))
        if site.stops_everything:
            self.stops_everything = True
            self.reasons.extend(say(site.stops_everything))

    def add_symptom(self, report: SymptomReport, *, on: date, sessions_done: Sequence[date]) -> None:
        """Add a warning symptom or an event, unless it is cleared or over."""
        reported_on = min(report.on, on)
        over_on = report.cleared_on
        if over_on is not None and not reported_on <= over_on <= on:
            over_on = None  # cleared before it was reported, or not yet: it stands
        day = reported_on.isoformat()
        if report.symptom is not None and over_on is None:
            why = Reason("T4", "symptom-stop", {"on": day, "symptom": report.symptom.value})
            self._stop(Topic.SYMPTOM, Urgency.NOW, why)
        if report.event is Event.CRASH and over_on is None:
            self._stop(Topic.CRASH, Urgency.TODAY, Reason("T4", "crash-stop", {"on": day}))
        if report.event is Event.SURGERY and over_on is None:
            self._stop(Topic.SCREENING, Urgency.TODAY, Reason("T4", "surgery-stop", {"on": day}))
        if report.event is Event.NUMBNESS_ON_BIKE and over_on is None:
            why = Reason("T4", "numbness-on-bike", {"on": day})
            self.concerns.append(Concern(Topic.NUMBNESS, Urgency.SOON, (why,)))
        if report.event is Event.FEVER_OR_CHEST:
            self._add_fever(day, over_on, on, sessions_done)
        if report.event is Event.ILLNESS:
            self._add_illness(day, over_on, on, sessions_done)

    def _stop(self, topic: Topic, urgency: Urgency, why: Reason) -> None:
        self.stops_everything = True
        self.reasons.append(why)
        self.concerns.append(Concern(topic, urgency, (why,)))

    def _add_fever(self, day: str, over_on: date | None, on: date, sessions_done: Sequence[date]) -> None:
        """P10: nothing for 48 h after it is over, then half the sets without a rise until two sessions are done."""
        stop = Reason("P10", "fever-stop", {"hours": CLEAR_HOURS, "on": day})
        if over_on is None:
            self._stop(Topic.ILLNESS, Urgency.TODAY, stop)
            return
        clear_on = over_on + timedelta(days=CLEAR_FROM_DAYS)
        if on < clear_on:
            self.stops_everything = True
            self.reasons.append(stop)
        elif _is_easing(clear_on, on, sessions_done):
            self.halves_everything = self.rises_barred = True
            figures: dict[str, Figure] = {"over_on": over_on.isoformat(), "sessions": SESSIONS_WITHOUT_RISE}
            self.reasons.append(Reason("P10", "fever-easing", figures))

    def _add_illness(self, day: str, over_on: date | None, on: date, sessions_done: Sequence[date]) -> None:
        """P10: half the sets until it is over, and no rise until two sessions are done."""
        if over_on is None:
            why = Reason("P10", "illness-easing", {"on": day})
            self.halves_everything = self.rises_barred = True
            self.reasons.append(why)
            self.concerns.append(Concern(Topic.ILLNESS, Urgency.SOON, (why,)))
        elif _is_easing(over_on, on, sessions_done):
            self.rises_barred = True
            figures: dict[str, Figure] = {"over_on": over_on.isoformat(), "sessions": SESSIONS_WITHOUT_RISE}
            self.reasons.append(Reason("P10", "illness-over", figures))

    def state(self) -> BodyState:
        """What was gathered; the most urgent concern first."""
        return BodyState(
            gates=tuple(self.gates),
            stops_everything=self.stops_everything,
            halves_everything=self.halves_everything,
            rises_barred=self.rises_barred,
            reasons=tuple(dict.fromkeys(self.reasons)),
            concerns=tuple(sorted(dict.fromkeys(self.concerns), key=lambda concern: -concern.urgency)),
            returns=tuple(self.returns),
        )


def _is_easing(since: date, on: date, sessions_done: Sequence[date]) -> bool:
    """Whether fewer than two sessions were done from `since` on and before `on`."""
    done = sum(since <= day < on for day in sessions_done)
    return done < SESSIONS_WITHOUT_RISE and (on - since).days < EASING_ENDS_DAYS


# --- what an exercise may do ------------------------------------------------------------------------------------------


def gate_for(
    primary: frozenset[Region], secondary: frozenset[Region], state: BodyState
) -> tuple[Gate, tuple[Reason, ...]]:
    """The strictest gate on an exercise that loads these regions, and every reason for it that bars something.

    Regions loaded only a little (`secondary`) differ in soreness alone: a repeat instead of half the sets (T3).
    """
    gate, reasons = Gate.FREE, list(state.reasons)
    if state.rises_barred:
        gate = Gate.HOLD
    if state.halves_everything:
        gate = Gate.HALF_SETS
    if state.stops_everything:
        gate = Gate.STOP
    for site in state.gates:
        if site.region in primary | secondary and site.gate > Gate.FREE:
            only_little = site.region not in primary and site.gate is Gate.HALF_SETS
            gate = max(gate, Gate.HOLD if only_little else site.gate)
            reasons.extend(site.reasons)
    return gate, tuple(dict.fromkeys(reasons))


def returned_on(regions: frozenset[Region], state: BodyState) -> date | None:
    """The newest day from which a site among `regions` comes back in steps, `None` when none does (T5)."""
    return max((back.since for back in state.returns if back.region in regions), default=None)


def sites_to_ask(state: BodyState) -> tuple[tuple[Region, Side], ...]:
    """The sites that each check-in must ask about by name, because only an answer lets them go on (H3, T5)."""
    asked = [(site.region, site.side) for site in state.gates if site.gate > Gate.FREE]
    return tuple(dict.fromkeys([*asked, *((back.region, back.side) for back in state.returns)]))
