"""Reasons to sentences, and what to do next: one sentence that a person at the bench can act on.

Each key has two parts, why and what next. Instants in the facts (`..._us`) are given as the site's local time by
the caller of `sentence`. Remaining time is already rounded up where it is counted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from reprocess.rules.answer import Reason

Local = Callable[[int], str]

SENTENCES: Final[dict[str, tuple[str, str]]] = {
    "aside": ("{item} is {stage}.", "Leave it where it is; only a supervisor brings it back."),
    "already-done": ("{step} is done already, by {by} at {at}.", "Go on with the next step."),
    "already-ready": ("{item} is ready already.", "Store it, or report its use."),
    "attested-only": ("Times of {steps} were written by hand, not measured.", "Do these steps again on the clock."),
    "agent-not-allowed": ("{agent} is not allowed on this part.", "Use one of: {agents}."),
    "before-its-step": (
        "{step} began {at}, but {before} was done {since}.",
        "Ask a supervisor to settle the two records.",
    ),
    "badge-taken": ("Badge {badge} belongs to {person}.", "Withdraw it there first, or give another one."),
    "badge-unknown": ("Badge {badge} is not known here.", "Scan your own badge, or ask a supervisor."),
    "bath-failed": (
        "{solution} failed its test: {held} items held, {ready} of them were ready.",
        "Dump the bath, make a new one, start these items again; after a new inspection two people lift the holds.",
    ),
    "broken": (
        "Recorded: {cause}. The {proven} s so far do not count.",
        "Start the contact again. Thank you for saying so.",
    ),
    "cannot-undo": ("The latest entry ({kind}) cannot be undone.", "Ask a supervisor for a correction."),
    "case-opened": (
        "Exposure case {case}: {uses} uses by {wearers} wearers, {out} still out.",
        "Tell infection prevention; `reprocess lookback case {case}` lists the uses.",
    ),
    "check-failed": ("Not good: {text} ({defect}).", "Put the item aside and follow the next step."),
    "check-missing": ("Not answered: {text}", "Answer {check} with yes or no."),
    "clock-open": ("The clock of {step} still runs.", "Confirm its end first."),
    "clock-runs": ("The clock of {step} runs already, {left} s left.", "Wait, then confirm its end."),
    "competency-lapsed": (
        "{name}'s competency for {step} on {item_kind} ended {ended}.",
        "Somebody with a current competency does it.",
    ),
    "competency-missing": (
        "{name} has no competency for {step} on {item_kind}.",
        "Somebody with a current competency does it.",
    ),
    "confirm-first": ("The contact of {step} is met but not confirmed.", "Scan its end first."),
    "contacts-void": ("{solution} is gone; contacts of {items} are void.", "Start them again in a new solution."),
    "count-missing": ("Not counted: {count}.", "Count {count}; there must be {wanted}."),
    "count-wrong": ("{seen} {count}, there must be {wanted}.", "Put it right before going on."),
    "countersign": ("A late entry from form {paper} needs a second person.", "Scan a second badge."),
    "defect": ("Recorded: {defect}.", "Put the item aside and follow the next step."),
    "dose-short": ("A0 is {dose} s, {least} s are needed ({sampling}).", "Run the cycle again."),
    "dried-after-all": (
        "Recorded: the film of {step} had dried. {step} does not count.",
        "Start the contact again. Thank you for saying so.",
    ),
    "dried-out": (
        "Last wetted {since_wet} s ago; the film lasts {film} s. The contact is void.",
        "Wet the surface and start again at zero.",
    ),
    "earlier-cycle": (
        "That was at {at}, before this cycle began at {since}.",
        "Ask a supervisor to settle the two records.",
    ),
    "expired-mid-soak": ("{solution} expired during this soak.", "Finish this one; use no more of it."),
    "expiry-stays": ("Topping up does not move the expiry, {at}.", "Use it until then at most."),
    "film-not-shown": (
        "The film lasts {film} s, {step} takes {least} s, and two times do not show that it was wetted in between.",
        "Do this contact again on the clock.",
    ),
    "found-in-store": ("Found in store: {findings}.", "Take it out of the store."),
    "gaskets-wrong": (
        "{gaskets} gaskets, there must be {wanted}, one on each filter.",
        "Fit a gasket from stock and log its lot.",
    ),
    "implausible": (
        "{reading} {value} cannot be right (from {least} to {most} {unit}).",
        "Read it again and enter it.",
    ),
    "in-another": ("{item} belongs to {assembly}.", "Take another part, or return that assembly first."),
    "in-force-already": ("This text of {file} is in force already.", "Nothing is to be done."),
    "inspect-first": ("Hold {hold} is not settled: {requires}.", "Do that, then lift the hold."),
    "held-here": ("On hold: {cause}.", "Hold {hold}."),
    "instrument-faulty": ("{instrument} was found faulty.", "Use another {sort}."),
    "instrument-needed": ("A {sort} must be named; {named} was.", "Scan the {sort} you used."),
    "instrument-sort": ("{instrument} is a {sort}, a {wanted} is needed.", "Scan the right instrument."),
    "instrument-unverified": ("{instrument} is past its verification, {at}.", "Use another {sort}."),
    "known-already": ("{subject} is on record already.", "Use another id."),
    "late-start": (
        "{step} began {since} s after contact ended; {warn} s is the limit.",
        "Rinse at once next time: residue dries on.",
    ),
    "left-assembly": ("{item} is no longer part of this assembly.", "Assemble it again."),
    "assembly-in-assembly": ("{item} is an assembly itself.", "Put its parts together, not assemblies."),
    "worn-since": ("{item} was worn by {by} since it was cleaned.", "Report its use; then clean every part of it."),
    "worn-already": ("{item} was put on already, by {by}.", "Take another one; it is worn once between two cycles."),
    "other-wearer": ("{by} began to put on {item}.", "Take another one."),
    "wear-done-already": ("{step} is done.", "Go on with {next}."),
    "wear-order": ("{step} comes later.", "Do {next} first."),
    "not-ready-to-wear": ("{item} is {stage}, not ready.", "Take a ready one."),
    "never-put-on": ("Nothing is on record of {item} being put on.", "Tell a supervisor who wore it."),
    "taken-off-in-disorder": (
        "{step} came before {missing}.",
        "Clean your hands, and tell infection prevention what you touched.",
    ),
    "nobody-watched": ("Nobody watched {step}.", "Ask an observer; tell infection prevention if you touched yourself."),
    "taken-off-amiss": ("Not so: {text}", "Clean your hands, wash what was touched, tell infection prevention."),
    "not-worn": ("{item} is not being worn.", "Assemble it anew instead."),
    "not-swapped-in-use": ("The {slot} is not changed while it is worn.", "Leave, take it off in order."),
    "does-not-fit": ("{item} does not fit as {slot}.", "Take one that the configuration names."),
    "signal": ("{text}", "{asks} Hand it in afterwards."),
    "results-suspect": (
        "What {instrument} measured is in doubt. Fallen: {items}.",
        "Test these items again with another instrument.",
    ),
    "recurring-due": ("{item} is due for its {step}.", "Do {step}; only then can it be released."),
    "recurring-near": ("{item} is soon due for its {step}.", "Plan {step}."),
    "life-near": ("{item} is near its limit: {limit}.", "Order a replacement."),
    "life-over": ("{item} is past its limit: {limit}.", "Condemn it, or ask the programme administrator."),
    "lot-expired": ("Lot {lot} expired {at}.", "Open another lot."),
    "many-restarts": (
        "This is attempt {attempt}; more than {most} restarts.",
        "Tell a supervisor: product or method may not fit.",
    ),
    "mixed-batch": (
        "Parts of {item} ({stage}) went into {other}, which now stands no better.",
        "Process {other} again.",
    ),
    "moved-early": (
        "{step} was left {left} s early, so its contact is void.",
        "Start the contact again, or undo a wrong scan within 60 s.",
    ),
    "never": ("Never {method} this part. {text}", "Put it aside if it happened."),
    "never-after": (
        "{agent} must not meet {other} without a rinse between them.",
        "Go on with the agent used before, or ask a supervisor.",
    ),
    "never-tested": ("{solution} has no passing test.", "Test it and log the result."),
    "no-clock": ("No clock runs for {item}.", "Start the contact first."),
    "no-configuration": ("No approved configuration of that name.", "Choose one that is in force."),
    "no-film": (
        "{step} is no wet film, so wetting does not help it.",
        "If it got wet, interrupt it as rinsed and start again.",
    ),
    "no-open-clock": ("No clock of {step} runs for {item}.", "Start it first."),
    "no-such-hold": ("There is no hold {hold} here.", "Open holds: {open}."),
    "not-a-number": ("{reading}: {because}", "Enter it again."),
    "not-asked": ("{name} is not asked for here.", "This step asks for: {known}."),
    "not-assembled": ("{item} is not assembled.", "Assemble it first."),
    "not-at-this-site": ("{name} is not registered at {site}.", "Ask a supervisor."),
    "not-cleaned": ("{step} cannot start: {missing} not done.", "Next: {next}."),
    "no-such-workflow": ("No workflow {workflow} is in force here.", "Publish and approve it first."),
    "not-known-yet": ("{subject} is not on record.", "Enrol it first."),
    "not-proposed": ("This text of {file} is not the one proposed.", "Publish it first."),
    "not-in-configuration": (
        "{item} ({model}) has no place in {configuration}.",
        "Use a part that the configuration names.",
    ),
    "not-in-the-past": ("{at} has not happened yet.", "Enter the time on the form."),
    "not-in-this-path": ("{step} does not belong to this item's path.", "Follow the next step."),
    "not-on-label": ("The label of {agent} has no claim {claim} by {method}.", "Use another agent."),
    "nothing-to-correct": (
        "Entry {number} is not among those that can be corrected.",
        "Look it up in the item's history.",
    ),
    "off-label-temperature": (
        "{temp} degC is off the label (from {least} to {most}).",
        "Bring the solution to temperature.",
    ),
    "on-hold": ("STOP. On hold ({sort}): {cause}.", "Put it in quarantine. Hold {hold}, owner {owner}."),
    "one-end-only": (
        "A late entry of {step} needs both times from the form.",
        "Enter when it began and when it ended.",
    ),
    "one-too-many": ("{item}: that place is taken already.", "Leave this part out."),
    "one-wearer-used": ("{item} is for one wearer and was used.", "Condemn it."),
    "only-actor": ("{name} did every step of this cycle alone.", "Another person must do {step}."),
    "other-site": ("{item} belongs to site {site}.", "Receive it by transfer first."),
    "out-of-order": ("{step} cannot come now: {missing} not done.", "Next: {next}."),
    "over-exposed": (
        "In contact {seen} s, longest allowed {most} s. Contact is met; item held.",
        "Inspect the material, then a supervisor lifts the hold.",
    ),
    "own-competency": ("{name} may not grant a competency to {name}.", "Another person grants it."),
    "own-file": ("{name} proposed {file} and may not approve it.", "Another person approves."),
    "own-hold": ("{name} placed hold {hold} and may not lift it alone.", "Scan a second badge."),
    "own-work": ("{name} did these steps of this cycle: {did}.", "Another person must do {step}."),
    "part-not-ready": ("{item} is {stage}, not ready.", "Take a ready part."),
    "part-on-hold": ("STOP. {item} is on hold: {cause}.", "Take another part. Hold {hold}, owner {owner}."),
    "placed": ("On hold ({sort}): {cause}.", "Put it in quarantine. Hold {hold}."),
    "plugs-wrong": ("{plugs} plugs, this configuration needs {wanted_plugs}.", "Put the plugs right."),
    "ports-open": (
        "{ports} ports, but {filters} filters and {plugs} plugs: a port is open.",
        "Fit {wanted_plugs} plug(s); filters and plugs must fill the ports.",
    ),
    "ports-over": (
        "{ports} ports, but {filters} filters and {plugs} plugs.",
        "Count again; {wanted_plugs} plug(s) belong here.",
    ),
    "ready-soon-over": ("It stays ready only until {at}.", "Use it first, or replace what ends."),
    "reading-missing": ("Not measured: {reading}.", "Enter it in {unit}."),
    "reading-out": ("{reading} {value} is outside {limit}.", "Put the item aside and follow the next step."),
    "result-missing": ("The test has no result.", "Enter the reading, or passed or failed."),
    "role-needed": ("One of {roles} must decide this.", "Scan the badge of one of them."),
    "same-person": ("Both badges belong to {name}.", "A different person must scan."),
    "scanned-twice": ("{item} was scanned twice.", "Scan each part once."),
    "second-needed": ("{step} needs a second person.", "Scan a second badge."),
    "shelf-over": ("{item} has been on the shelf too long, since {at}.", "Process it again."),
    "single-use": ("{solution} may be used once and was.", "Make a new one."),
    "slot-empty": ("{slot}: {have} of {wanted} present.", "Add the missing part."),
    "solution-ended": ("{solution} is no longer in use ({cause}).", "Use another one."),
    "solution-expired": ("{solution} expired {at}.", "Make or open a new one."),
    "solution-failed": ("{solution} failed its test {at}.", "Make a new one."),
    "solution-unknown": ("No solution called {solution}.", "Make it up or open it first; agents here: {agents}."),
    "steps-missing": ("Not done in this cycle: {missing}.", "Next: {next}."),
    "still-in-use": ("{solution} is still in use.", "End it first, then make it anew."),
    "strip-contradicts": ("{value} against a limit of {limit} is not what was answered.", "Look at the strip again."),
    "temperature-missing": ("The temperature was not given.", "Measure it and enter it in degC."),
    "test-before-use": ("{solution} must pass a test before each use.", "Test it and log the result."),
    "test-doubted": (
        "The latest test of {solution} does not count but showed it too weak.",
        "Test it again with a good strip.",
    ),
    "test-today": ("{solution} has no passing test today.", "Test it and log the result."),
    "test-void": ("The test does not count: {because}.", "Test again with a good strip."),
    "time-dropped": ("{at} has not come yet; that time was left out.", "Enter when use ended, if it matters."),
    "too-early": ("{step}: {left} s left of {least} s.", "Keep it so, then confirm again."),
    "too-fast": ("{step} took {took} s; {least} s is the least a person needs.", "Say why, or do it again."),
    "too-late": ("{step} began {since} s after contact ended; {most} s is the limit.", "Start again from {back_to}."),
    "too-short": (
        "{step}: the form says {proven} s, {least} s are needed.",
        "Do this step again on the clock.",
    ),
    "too-warm": ("{temp} degC is above {most} degC.", "Cool the solution down."),
    "too-weak": (
        "The mixture has {ppm} ppm; {least} is the least.",
        "Check the ratio: 1 in n counts the stock, 1 plus n does not.",
    ),
    "trace-unreadable": ("The temperature trace cannot be used: {because}", "Get the logger's file again."),
    "two-must-confirm": (
        "Nobody saw the clock of {step} all the time.",
        "You and a second person confirm the bath was undisturbed.",
    ),
    "two-people-needed": ("Two people must decide this.", "Scan a second badge."),
    "undo-other-person": ("The latest entry is by {by}.", "Only that person undoes it, or ask a supervisor."),
    "undo-too-late": ("More than {within} s have passed.", "Ask a supervisor for a correction."),
    "unknown-item": ("{item} is not on record.", "Put it in quarantine; a supervisor commissions it."),
    "unobserved": (
        "The clock of {step} was not seen running all the time.",
        "Wet the surface and start again at zero.",
    ),
    "very-late": ("Form {paper} is more than a day old.", "A supervisor must countersign."),
    "void-mid-soak": (
        "{solution} expired {at}, during this contact: the contact is void.",
        "Start again in a new solution.",
    ),
    "was-ready": ("{item} may have been ready before that scan.", "Process it again, or ask a supervisor."),
    "works-under-hold": ("On hold ({sort}): {cause}. Work may go on, release may not.", "Hold {hold}."),
    "worn-out": ("{item} is past its limit.", "Take it out of use."),
    "wrong-side": ("{step} belongs on the {zone} side; this station is {side}.", "Take the item to the other side."),
}


def sentence(reason: Reason, local: Local) -> str:
    """Returns why, in words."""
    return SENTENCES[reason.key][0].format_map(_filled(reason, local))


def next_action(reason: Reason, local: Local) -> str:
    """Returns what the person does next, with the names of those who can help."""
    action = SENTENCES[reason.key][1].format_map(_filled(reason, local))
    if not reason.helpers:
        return action
    return f"{action} ({', '.join(reason.helpers)} can.)"


class _Facts(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return "?"


def _filled(reason: Reason, local: Local) -> _Facts:
    filled = _Facts()
    for name, fact in reason.facts.items():
        if name.endswith("_us") and isinstance(fact, int):
            filled[name.removesuffix("_us")] = local(fact)
        elif isinstance(fact, list):
            filled[name] = ", ".join(fact)
        else:
            filled[name] = str(fact)
    return filled
