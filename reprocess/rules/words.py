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
    "not-cut-off": ("Nobody can {what} while the record is out of reach.", "Ask again here, with the item at hand."),
    "form-entered": (
        "Form {form} was entered already, {at}, by {by}.",
        "Enter nothing again; look at `reprocess history form:{form}`.",
    ),
    "form-differs": (
        "Another form {form} was entered already, {at}, by {by}.",
        "Look at the number on the paper and correct it.",
    ),
    "person-elsewhere": (
        "{name} was scanned at {station} at {at}.",
        "Ask a supervisor to settle the two records.",
    ),
    "was-elsewhere": (
        "{item} was {where} when {did} is said to have happened, {at}.",
        "Ask a supervisor to settle the two records.",
    ),
    "overlaps": (
        "{did} overlaps {before}, which ran from {since} to {until}.",
        "Ask a supervisor to settle the two records.",
    ),
    "bath-made-later": (
        "{solution} was made up only at {at}.",
        "Ask a supervisor which bath it was.",
    ),
    "pass-on-paper": (
        "A test passed on form {paper} is kept but opens nothing.",
        "Test {solution} again before its next use.",
    ),
    "typed-unlike": (
        "{item} and {again} are not alike.",
        "Type the code again, twice, from the label.",
    ),
    "type-twice": (
        "A typed code needs a second look.",
        "Type {item} twice, or scan a second person's badge.",
    ),
    "relabel": (
        "{item} has a label that cannot be read.",
        "Print a new tag and put it on before release.",
    ),
    "not-its-load": (
        "{load} runs in {machine}, which did not send this.",
        "Look at the source's settings and the load it names.",
    ),
    "subscription-taken": (
        "There is a subscription {subscription} already.",
        "Take another name, or change the one there is.",
    ),
    "subscription-over": (
        "There is no subscription {subscription}, or it ended.",
        "Look at the list; make a new one.",
    ),
    "tag-taken": (
        "{tag} means {item} already.",
        "Take another tag; two items never share one.",
    ),
    "no-such-tag": (
        "{tag} is not a tag of {item}.",
        "Look at the item's tag and scan it.",
    ),
    "identity-doubted": (
        "On hold: {items}; {cause}.",
        "Put them in quarantine; two people compare the serial plates.",
    ),
    "doubt-first": (
        "Nobody has doubted the identity of {item} yet.",
        "Report the doubt first; the items are then held.",
    ),
    "not-to-split": (
        "Entries {numbers} of {item} cannot be another item's.",
        "Name entries of work from its history.",
    ),
    "aside": ("{item} is {stage}.", "Leave it where it is; ask a supervisor."),
    "already-done": ("{step} is done already, by {by} at {at}.", "Go on with the next step."),
    "already-ready": ("{item} is ready already.", "Store it, or report its use."),
    "attested-two": (
        "Times of {steps} were written by hand, not measured.",
        "A supervisor and another person may pass over D06, with a reason.",
    ),
    "attested-only": ("Times of {steps} were written by hand, not measured.", "Do these steps again on the clock."),
    "agent-not-allowed": ("{agent} is not allowed on this part.", "Use one of: {agents}."),
    "before-its-step": (
        "{step} began {at}, but {before} was done {since}.",
        "Ask a supervisor to settle the two records.",
    ),
    "badge-elsewhere": (
        "This badge was at work at {site} at {at}.",
        "Tell a supervisor; if it may be a copy, it is withdrawn.",
    ),
    "badge-taken": ("Badge {badge} belongs to {person}.", "Withdraw it there first, or give another one."),
    "badge-missing": ("No badge was scanned.", "Scan your own badge; on a command line, name it with `--as`."),
    "badge-unknown": ("Badge {badge} is not known here.", "Scan your own badge, or ask a supervisor."),
    "bath-failed": (
        "{solution} failed its test. Items held: {held}; ready until now: {ready}.",
        "Dump the bath, make a new one, clean these items again; after a new inspection two people lift the holds.",
    ),
    "broken": (
        "Recorded: {cause}. The {proven} s so far do not count.",
        "Start the contact again. Thank you for saying so.",
    ),
    "cannot-undo": ("The latest entry ({kind}) cannot be undone.", "Ask a supervisor for a correction."),
    "case-opened": (
        "Exposure case {case}. Uses: {uses}, wearers: {wearers}, still out: {out}.",
        "Tell infection prevention; `reprocess case {case}` lists the uses.",
    ),
    "changed-since": ("{subject} changed since you looked.", "Look again, then sign."),
    "check-failed": ("Not good: {text} ({defect}).", "Put the item aside and follow the next step."),
    "check-missing": ("Not answered: {text}", "Answer {check} with yes or no."),
    "clean-hands": ("{before} was your step on the dirty side.", "New gloves, clean hands, before the clean side."),
    "many-at-once": (
        "{step} on {items} items within {within} s.",
        "Scan each item when its own step is done.",
    ),
    "filters-apart": (
        "These filters were opened {days} days apart: {items}.",
        "Change filters as a pair.",
    ),
    "clock-open": ("The clock of {step} still runs.", "Confirm its end first."),
    "clock-stepped": (
        "The wall clock was moved by {by} s meanwhile; {step} counts running time.",
        "Tell whoever keeps the clocks.",
    ),
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
    "flags-settled": ("{steps} flagged steps of {name} are settled by that.", "Holds are lifted by two people."),
    "found-in-store": ("Found in store: {findings}.", "Take it out of the store."),
    "gaskets-wrong": (
        "{gaskets} gaskets, there must be {wanted}, one on each filter.",
        "Fit a gasket from stock and log its lot.",
    ),
    "implausible": (
        "{reading} {value} cannot be right (from {least} to {most} {unit}).",
        "Read it again and enter it.",
    ),
    "returned-before": ("{item} came back before; this counts as its receipt.", "Go on with its next step."),
    "inspection-overdue": (
        "{item} was to be inspected by {day}.",
        "Check its flow now; have it inspected at its return.",
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
    "worn-since": ("{item} was worn since it was cleaned.", "Report its use; then clean every part of it."),
    "worn-already": ("{item} was put on already.", "Take another one; it is worn once between two cycles."),
    "other-wearer": ("Somebody else began to put on {item}.", "Take another one."),
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
        "If it was removed, start again; if not, undo this scan within 60 s.",
    ),
    "not-overridden": (
        "{rule} alone cannot be passed over: {others} speaks against it.",
        "Settle {others} first; no override helps there.",
    ),
    "not-overridden-here": ("{rule} cannot be passed over here.", "Put right what the rule asks for."),
    "not-waiting": ("Entry {entry} does not wait for a review.", "`reprocess review list` shows what waits."),
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
    "not-held": ("{item} is not on hold.", "Place a hold if it must not be used."),
    "not-located": ("{item} was not scanned since hold {hold}.", "Scan it where it is, then lift the hold."),
    "not-known-yet": ("{subject} is not on record.", "Enrol it first."),
    "not-proposed": ("This text of {file} is not the one proposed.", "Publish it first."),
    "not-in-configuration": (
        "{item} ({model}) has no place in {configuration}.",
        "Use a part that the configuration names.",
    ),
    "not-in-force": ("This text of {file} is not in force.", "Confirm the text that is."),
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
    "overridden": ("{rule} was passed over once ({because}).", "A supervisor reviews it."),
    "override-again": (
        "You passed over a rule for yourself within {minutes} minutes.",
        "Another person with the role decides.",
    ),
    "override-reference": ("{rule} needs a statement to rest on.", "Give its reference or the digest of the file."),
    "override-role": ("Passing over {rule} needs one of {roles}.", "Scan the badge of one of them."),
    "override-spare": ("No override of {rule} was needed; none was used.", "Nothing is to be done."),
    "override-two": (
        "Passing over {rule} needs one of {roles} and one of {others}.",
        "Both agree: `reprocess review agree`, within five minutes.",
    ),
    "override-until": ("Passing over {rule} needs an end within {days} days.", "Say until when."),
    "own-competency": ("{name} may not grant a competency to {name}.", "Another person grants it."),
    "own-entry": ("{name} had a part in this entry.", "Another person reviews it."),
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
    "preceptor-needed": (
        "{name} is learning {step} on {item_kind}.",
        "Scan the badge of a competent person who stands by.",
    ),
    "ready-soon-over": ("It stays ready only until {at}.", "Use it first, or replace what ends."),
    "recall-changed": (
        "The list is not what was shown: new {gained}; no longer on it {gone}.",
        "Preview it again, look through it, then commit.",
    ),
    "recall-closed": ("Recall {recall} is closed.", "Open another one under a new id."),
    "recall-committed": (
        "Recall {recall}: {held} items held, {out} of them out.",
        "Locate each one; `reprocess recall {recall}` lists what is missing.",
    ),
    "recall-empty": ("Nothing on record matches {sort} {name}.", "Look for another spelling, then preview again."),
    "recall-everything": (
        "This recall reaches every one of the {total} items on record.",
        "If that is meant, type the number: `--all {total}`.",
    ),
    "recall-not-committed": ("Recall {recall} holds nothing yet.", "Preview and commit it first."),
    "recall-not-located": (
        "{missing} of {total} items are not located: {items}.",
        "Scan each one; two people condemn what is lost.",
    ),
    "recall-not-previewed": ("Recall {recall} has no preview.", "Preview it first."),
    "recall-previewed": (
        "Recall {recall} reaches {items} items, {out} of them out; {wearers} wearers.",
        "Look through the list, then commit recall {recall}.",
    ),
    "reading-missing": ("Not measured: {reading}.", "Enter it in {unit}."),
    "reading-out": ("{reading} {value} is outside {limit}.", "Put the item aside and follow the next step."),
    "result-missing": ("The test has no result.", "Enter the reading, or passed or failed."),
    "role-needed": ("This needs one of {roles}.", "Scan the badge of one of them."),
    "same-person": ("Both badges belong to {name}.", "A different person must scan."),
    "safety-moved": (
        "{file} changed for safety: {moved} items moved, {fell} lost steps, {out} are out.",
        "Do their remaining steps again; recall what is out.",
    ),
    "scanned-twice": ("{item} was scanned twice.", "Scan each part once."),
    "second-needed": ("{step} needs a second person.", "Scan a second badge."),
    "shelf-over": ("{item} has been on the shelf too long, since {at}.", "Process it again."),
    "single-use": ("{solution} may be used once and was.", "Make a new one."),
    "slot-empty": ("{slot}: {have} of {wanted} present.", "Add the missing part."),
    "solution-ended": ("{solution} is no longer in use ({cause}).", "Use another one."),
    "solution-expired": ("{solution} expired {at}.", "Make or open a new one."),
    "solution-failed": ("{solution} failed its test {at}.", "Make a new one."),
    "solution-unknown": ("No solution called {solution}.", "Make it up or open it first; agents here: {agents}."),
    "steps-flagged": (
        "{steps} steps of {name} are in doubt. Held: {held}.",
        "A supervisor reviews them: `reprocess review list`.",
    ),
    "steps-missing": ("Not done in this cycle: {missing}.", "Next: {next}."),
    "still-in-use": ("{solution} is still in use.", "End it first, then make it anew."),
    "strip-contradicts": ("{value} against a limit of {limit} is not what was answered.", "Look at the strip again."),
    "temperature-missing": ("The temperature was not given.", "Measure it and enter it in degC."),
    "temporary-staff": (
        "{name} is temporary staff without an assessed competency for {step}.",
        "A supervisor has it assessed and entered first.",
    ),
    "test-before-use": ("{solution} must pass a test before each use.", "Test it and log the result."),
    "test-doubted": (
        "The latest test of {solution} does not count but showed it too weak.",
        "Test it again with a good strip.",
    ),
    "test-today": ("{solution} has no passing test today.", "Test it and log the result."),
    "test-void": ("The test does not count: {because}.", "Test again with a good strip."),
    "time-dropped": ("{at} has not come yet; that time was left out.", "Enter when use ended, if it matters."),
    "too-early": ("{step}: {left} s left of {least} s.", "Keep it so, then confirm again."),
    "too-fast-said": (
        "{step} took {took} s; {least} s is the least a person needs.",
        "Your reason stands beside it on record.",
    ),
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
    "starter-must-confirm": (
        "{by} began {step} and must confirm that it was left alone.",
        "Scan that badge too, or start again at zero.",
    ),
    "two-must-confirm": (
        "Nobody saw the clock of {step} all the time.",
        "You and a second person confirm the bath was undisturbed.",
    ),
    "two-people-needed": ("Two people must decide this.", "Scan a second badge."),
    "undo-other-person": ("The latest entry is by {by}.", "Only that person undoes it, or ask a supervisor."),
    "undo-too-late": ("More than {within} s have passed.", "Ask a supervisor for a correction."),
    "unknown-item": ("{item} is not on record.", "Put it in quarantine; a supervisor commissions it."),
    "unobserved": (
        "Nobody saw the clock of {step} for {unseen} of {passed} s.",
        "Start it again at zero.",
    ),
    "very-late": ("Form {paper} is more than a day old.", "A supervisor must countersign."),
    "void-mid-soak": (
        "{solution} expired {at}, during this contact: the contact is void.",
        "Start again in a new solution.",
    ),
    "was-ready": ("{item} may have been ready before that scan.", "Process it again, or ask a supervisor."),
    "wearer-left": ("Wearer {wearer} left.", "Register the wearer again, then issue."),
    "wearer-no-fit": (
        "No fit test of {model} counts for {wearer}.",
        "Offer a model that fits, or ask occupational health.",
    ),
    "wearer-not-cleared": ("{wearer} has no clearance in date.", "Ask occupational health; issue nothing until then."),
    "wearer-unknown": ("Wearer {wearer} is not on record.", "Ask the programme administrator to register the wearer."),
    "wearer-untrained": (
        "The training of {wearer} is not in date.",
        "Train first; the programme administrator records it.",
    ),
    "case-closed": ("Case {case} was closed at {at}.", "Open the matter anew with infection prevention."),
    "case-not-decided": (
        "Exposure case {case} concerns {wearer} and is not decided.",
        "Decide the case first; `reprocess case {case}`.",
    ),
    "case-undecided": ("Case {case} is not decided.", "Decide whether the wearers are told."),
    "case-unknown": ("There is no case {case}.", "`reprocess case` lists the cases."),
    "erased-already": ("The name of {wearer} was erased at {at}.", "Nothing is to be done."),
    "kept-by-law": (
        "An exposure record keeps the name of {wearer} until {until} ({source}).",
        "Ask again then; the pseudonym alone is used meanwhile.",
    ),
    "names-purged": (
        "{names} names were past their {years} years and are erased.",
        "Their pseudonyms stay; `reprocess wearer retention` shows the rest.",
    ),
    "names-somebody": ("The words name a wearer.", "Write the pseudonym instead."),
    "nobody-to-tell": ("Nobody is to be told in case {case} so far.", "Decide first that the wearers are told."),
    "nothing-done": ("Nothing is on record that was done about case {case}.", "Record what was changed, then close."),
    "purge-by-policy": (
        "Names go by their period, not by choice: {wearers}.",
        "Run `reprocess wearer purge` without naming anybody.",
    ),
    "still-out": ("{wearer} still has something out.", "Take it back first, then erase the name."),
    "uses-ungraded": ("Not graded yet: use {uses}.", "Grade each use as gross or lower, then decide."),
    "wearers-untold": ("Not told yet: {wearers}.", "Tell each one, or record that nobody could be reached."),
    "works-under-hold": ("On hold ({sort}): {cause}. Work may go on, release may not.", "Hold {hold}."),
    "on-its-way": ("{item} is on its way to {site}.", "Receive it there first."),
    "out-there": ("{item} is out, at {place}.", "Return it first; then it starts again."),
    "issued-already": ("{item} is out, at {place}, since {since}.", "Ask there, or return it first."),
    "not-ready-to-issue": ("{item} is {stage}, not ready.", "Take a ready one."),
    "charge-short": (
        "{charge} percent last about {runs} min; {needed} min are needed.",
        "Take a fuller battery, or plan a shorter wear.",
    ),
    "take-another": ("{item} stays here.", "Take {other}; it is the next to be used."),
    "none-left": ("No other {item_kind} is ready here.", "Ask the department for one."),
    "second-unit": ("This wearer has {units} out already.", "Ask why, or have it returned first."),
    "units-overdue": ("This wearer has {units} that are overdue.", "Ask for them back now."),
    "kept-for-another": ("{item} is kept for another wearer.", "Take one that serves everybody."),
    "sooner-due": ("{item} must be used first, by {at}.", "Take that one, if it fits."),
    "wearer-missing": ("Nobody was named who takes {item}.", "Scan the wearer's badge."),
    "identify-later": ("Nobody was named who takes {item}.", "Find out within {hours} h who has it, and log it."),
    "nobody-to-name": ("No issue of {item} waits for a name.", "Look it up in the item's history."),
    "which-issue": ("Several issues of {item} wait for a name: {numbers}.", "Say which one, by its entry: --entry."),
    "needs-cycle": ("{item} was with somebody else, or is no longer ready.", "Return it; it is cleaned first."),
    "shift-over": ("More than {hours} h have passed since {item} was issued.", "Return it and take another one."),
    "not-issued": ("{item} is not on record as issued.", "Issue it first."),
    "stays-there": ("{item} serves {place} only.", "A supervisor scans too, to let it go."),
    "loan-needs-role": ("{item} would leave the network.", "A supervisor scans too, to let it go."),
    "issued-and-held": ("{item} is out, at {place}.", "Finish safely, leave, take it off in order, return it."),
    "parts-missing": ("Not come back with {item}: {parts}.", "Look for them; they stay with whoever had it."),
    "parts-not-looked-at": (
        "Nobody said which parts of {item} came back.",
        "Count its parts now; log each missing one as lost.",
    ),
    "special-path": ("{item} comes back as {contamination_class}.", "Bag and mark it so; tell whoever takes it."),
    "no-swap-told": ("{item} came back without {whole}.", "Log what was put in its place."),
    "swap-not-told": ("{item} came in place of {other}; nobody had logged it.", "Look for {other}; log the swap."),
    "never-issued": ("{item} was not on record as issued.", "Say who had it; a supervisor lifts the hold."),
    "came-with-another": (
        "{item} came with {whole} and is on record in {where}.",
        "Put all of them aside; a supervisor looks at the plates.",
    ),
    "fault-told": ("{item} was returned with: {fault}.", "Put it aside; every part of it is held."),
    "cut-off": ("{item} was cut off its wearer.", "Put it aside; two people condemn what is spoilt."),
    "container-wanted": ("{item} is not clean and goes in no closed container.", "Close and mark one, and scan it."),
    "container-needed": ("{item} goes in no closed container.", "Close and mark one, and scan it."),
    "not-clean-yet": ("{item} is used, so it cannot travel as clean.", "Clean it first, or send it as it is."),
    "no-such-site": ("{site} is no other site on record.", "Name the site to which {item} goes."),
    "for-another-site": ("{item} goes to {site}.", "Send it on; it is received there."),
    "here-already": ("{item} belongs here already.", "If it was out, return it."),
    "starts-again": ("{item} did not come in clean closed packaging.", "It starts again."),
    "steps-void": ("{item} was moved; {fell} no longer count.", "Go on after cleaning."),
    "never-sent": ("Nobody had sent {item} here.", "Say where it was; a supervisor lifts the hold."),
    "worn-out": ("{item} is past its limit.", "Take it out of use."),
    "wrong-side": ("{step} belongs on the {zone} side; this station is {side}.", "Take the item to the other side."),
    "bring-back": ("Still with somebody: {items}.", "Tell the unit: take it off in order, bring it back."),
    "changed-since-loaded": ("No longer as it was loaded: {items}.", "Take it out of the load first."),
    "count-differs": (
        "{load}: {in} went in, {out} came out. Missing: {missing}. Not on its list: {strange}.",
        "Hold everything in it; two people count it again.",
    ),
    "failed-already": ("{load} failed already: {because}.", "Process its items again."),
    "in-a-load": ("{item} belongs to load {load}.", "Finish that load first: its record, then unloading."),
    "indicator-failed": ("Indicator {indicator} did not pass.", "Check the machine, then run the load again."),
    "indicator-missing": ("The indicator {indicator} has no result.", "Read it and enter it; the load awaits it."),
    "awaiting-record": ("{load} ended without a logger record.", "Fetch the record; without it nothing passed."),
    "left-out": ("Not counted, as it changed in the load: {items}.", "Process it again."),
    "load-closed": ("{load} is {state}; nothing goes in any more.", "Open another load."),
    "load-empty": ("Nothing is in {load}.", "Scan the items into it first."),
    "load-failed": ("{load} did not pass: {because}. Its {items} items start again.", "Process them again."),
    "load-failed-later": (
        "{load} does not count after all: {because}. {held} items held, {ready} of them ready, {out} out.",
        "Bring all of them together; process them again.",
    ),
    "load-full": ("{load} holds at most {most} items.", "Open another load."),
    "load-known": ("There is a load {load} already.", "Give this one another id."),
    "load-miscounted": ("{load} was not counted right.", "Two people count it again."),
    "load-not-ended": ("{load} is {state}.", "Log its end first, then unload it."),
    "load-not-passed": ("Load {load} did not pass.", "Process the item again."),
    "load-not-running": ("{load} is {state}; it has no end to log.", "Look it up: `reprocess load show {load}`."),
    "load-unknown": ("No load {load} is on record.", "Open it first."),
    "machine-runs": ("{machine} still runs {load}.", "Log the end of that load first."),
    "no-daily-test": (
        "{machine} has no passed test of today.",
        "Test it, then log it: `reprocess instrument {machine} verified`.",
    ),
    "no-programme": ("{machine} has no programme {programme}.", "Its programmes: {known}."),
    "not-a-machine": ("{machine} is no machine for loads.", "Scan a machine that is on record as a washer."),
    "not-for-loads": ("No load may do a step of {item} ({item_kind}).", "Leave it out; clean it as its file says."),
    "not-here": ("{item} is not here, but: {place}.", "Take it back first."),
    "not-in-load": ("Not in {load}: {items}.", "Look at the list of the load."),
    "record-of-another-time": ("The record begins {at}, not when this load ran.", "Get the record of this load."),
    "record-too-long": ("The record lasts {lasted} s, the cycle {ran} s.", "Get the record of this load alone."),
    "record-used": ("That record stands for another load of {machine} already.", "Get the record of this load."),
    "recount-differs": ("{counted} counted; without these there must be {left}.", "Count again, then say the number."),
    "too-hot": ("{item} bears {most} degC; {programme} reaches {hottest} degC.", "Use a cooler programme."),
    "two-must-count": ("One person alone cannot settle the count.", "Two people count; scan a second badge."),
    "two-must-read": ("A strip chart needs two people to read it.", "Scan a second badge."),
    "was-scanned-out": ("Scanned out of the load: {items}.", "What came out was in it; tell a supervisor."),
    "was-too-hot": ("It got hotter than these bear: {items}.", "Inspect them; a supervisor lifts the hold."),
    "lot-other": ("Lot {lot} is {product}, not {wanted}.", "Take lot {next} of {wanted}."),
    "lot-recalled": ("STOP. Lot {lot} is recalled: {because}.", "Put it in quarantine. To take instead: {next}."),
    "lot-over": ("Lot {lot} expired {at}.", "Discard it; take lot {next}."),
    "lot-later": ("Lot {next} expires before lot {lot}, on {at}.", "Take lot {next} first."),
    "lot-short": ("The record has {left} of lot {lot}.", "Count it and log what is there."),
    "lot-unknown": ("Lot {lot} is not on record.", "Receive it first. To take instead: {next}."),
    "lot-taken": ("Lot {lot} is on record as {product}, not {wanted}.", "Receive it under an id of its own."),
    "lot-came-late": ("It expired {at}, before it came in.", "Send it back; it is not used."),
    "lot-two-days": ("Lot {lot} has two last days on record.", "The earlier one counts; look at the label."),
    "lot-is-recalled": (
        "Lot {lot} is recalled: {because}. Baths that hold it: {baths}.",
        "Run `reprocess recall` for this lot; it holds what was touched.",
    ),
    "lot-not-recalled": ("Lot {lot} is not recalled.", "Nothing is to be done."),
    "solution-recalled": (
        "STOP. {solution} holds lot {lot}, which is recalled.",
        "Take it out of use; make another one.",
    ),
    "wiped-dry": (
        "{solution} was dry. These items were wiped from it: {items}.",
        "Ask whoever wiped them whether they stayed wet.",
    ),
    "place-unknown": ("No place called {place} is on record.", "Set it up first, or scan another one."),
    "place-elsewhere": ("{item} and {place} belong to different sites.", "Receive it by transfer first."),
    "still-issued": ("{item} is still issued.", "Return it first."),
    "not-released": ("{item} is {stage}, not released.", "Finish its steps; only ready items go into {place}."),
    "place-not-clean": ("{place} is no clean place.", "Put {item} in a clean store."),
    "lies-nowhere": ("{item} lies at no place on record.", "Scan where it is put next."),
    "due-later": ("{next} runs out before {item}, on {at}.", "Take {next} first."),
    "store-out": ("{place}: {reading} {value} is outside {limit}.", "Put it right within an hour, then read again."),
    "store-out-for-long": (
        "{place} was outside {limit} for over an hour. Held: {items}.",
        "Look at each item; a supervisor lifts the holds.",
    ),
    "vapour-alarm": (
        "Too much vapour at {place}: {value}, at most {limit} ppm.",
        "Leave the room, close the lid, air it; read again before you return.",
    ),
    "vapour-in-air": ("Too much vapour at this site: {places}.", "Start no soak before a reading is within limits."),
    "water-unknown": ("No water point is named; {place} was.", "Name the water point; it must give {grade} water."),
    "water-unmeasured": (
        "No water point is on record; this rinse needs {grade} water.",
        "Set one up, so that its readings count.",
    ),
    "water-too-poor": ("{place} gives {grade} water; {wanted} is needed.", "Rinse with better water."),
    "water-not-read": ("{place}: no fresh reading of {reading}.", "Read it and log it, then rinse."),
    "water-out": ("{place}: {reading} is {value}, outside its limits.", "Use another water point."),
    "water-failed": (
        "The water of {place} is out of its limits. Held: {items}.",
        "Use other water; process these items again.",
    ),
    "interval-too-long": ("{months} months is too long; {most} is the most.", "Choose a shorter interval."),
    "field-missing": ("Not said: {field}.", "Enter the {field}; then save the inspection."),
    "inspection-reading-missing": ("Not measured: {reading}.", "Measure {reading} and enter it."),
    "unit-missing": ("{item} is missing from {place}.", "Search for it; another unit is to be brought."),
    "unit-is-out": ("{item} was issued and is at {place}.", "Count the other units; return this one first."),
    "seal-broken": ("Seal broken: {findings}.", "Take the unit out; bring another one."),
    "units-not-counted": ("Not counted, though on record in {place}: {items}.", "Scan them, or report them missing."),
    "below-par": ("{place} holds {have}; its par is {par}.", "Bring more ready units."),
    "cabinet-opened": (
        "{place} was opened in an emergency. Out: {taken}.",
        "Identify each wearer within 4 h; return units that are back.",
    ),
    "taken-in-doubt": ("These were not ready when taken: {items}.", "Locate them now; tell infection prevention."),
    "not-of-this-cabinet": ("Not on record in {place}: {items}.", "Scan where they belong."),
    "other-seal": (
        "The broken seal: {seal}. On record: {known}.",
        "Read the broken seal's number; tell a supervisor where they differ.",
    ),
    "repair-unstated": (
        "{item} goes to repair uncleaned, and nothing says which parts are contaminated.",
        "Label those parts; tell clinical engineering before they open it ({source}).",
    ),
    "repair-failed": ("{item} is not good after its repair: {test}.", "Repair it again, or condemn it."),
    "was-not-in-repair": ("{item} was {stage}, not in repair.", "Ask where it was; it takes its whole cycle."),
    "battery-hazard": (
        "{item} is a hazard: {cause}.",
        "Never charge it. Fireproof container; tell clinical engineering.",
    ),
    "battery-wet": ("{item} is {stage}: not clean and dry.", "Clean and dry it first."),
    "bay-other-model": ("{bay} does not charge model {model}.", "Use a bay for it; this one charges {models}."),
    "charger-out": ("Charger {charger} of {bay} is out of use.", "Use a bay of another charger."),
    "charge-temp-missing": ("The battery's temperature was not given.", "Measure it: {least} to {most} degC in {bay}."),
    "charge-temp-out": ("{temp} degC is outside {least} to {most} degC.", "Let the battery come to that temperature."),
    "ran-short": ("{item} ran {ran} min; {expected} min were expected.", "Hand it in; its capacity is tested next."),
    "not-charged": ("{item} was not charged in this cycle.", "Charge it first."),
    "top-up": ("{item} was charged {days} days ago.", "Top it up before it goes out."),
    "not-your-role": ("{operation} is not among what you may do.", "Ask one of: {roles}."),
    "person-signs": ("A person signs {operation}; no token does.", "Somebody does it with badge and PIN."),
    "scope-not-yours": ("{scope} is not yours to give.", "Somebody who may do it signs as the second person."),
    "scope-needed": ("This token may not {operation}.", "Ask for a token with {scope}."),
    "person-needed": ("{operation} needs a person.", "Name the badge of whoever did it."),
    "not-your-site": ("This is at {site}, which is not yours.", "Somebody of that site does it."),
    "sign-in-locked": ("Too many tries failed; sign-in is locked.", "A supervisor unlocks it with badge and PIN."),
    "try-later": ("Too many tries failed.", "Wait, then try again."),
    "session-over": ("This session lasted its shift.", "Sign in again with badge and PIN."),
    "signed-out": ("Nobody used this session for a while.", "Sign in again with badge and PIN."),
    "own-sign-in": ("Nobody unlocks their own sign-in.", "Another supervisor does it."),
    "not-locked": ("The sign-in of {person} is not locked.", "They sign in with badge and PIN."),
    "no-such-scope": ("There is no scope {scope}.", "Take some of: {scopes}."),
    "token-too-long": ("A token lasts {most} days at most.", "Choose an earlier last day."),
    "token-known": ("There is a token {token} already.", "Choose another id."),
    "no-key-left": ("The key file holds {most} keys, as many as it can.", "Go on with the newest one."),
    "no-such-token": ("There is no token {token} that counts.", "`reprocess token list` shows them."),
    "recurring-grace": ("{item} is due for its {step}.", "Do it within {left} days."),
}


def sentence(reason: Reason, local: Local) -> str:
    """Returns why, in words."""
    return SENTENCES[reason.key][0].format_map(filled(reason, local))


def next_action(reason: Reason, local: Local) -> str:
    """Returns what the person does next, with the names of those who can help."""
    action = SENTENCES[reason.key][1].format_map(filled(reason, local))
    if not reason.helpers:
        return action
    return f"{action} ({', '.join(reason.helpers)} can.)"


class _Facts(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return "?"


def filled(reason: Reason, local: Local) -> dict[str, str]:
    """Returns the facts of a reason as texts, instants in local time; a fact that is missing is a question mark."""
    filled = _Facts()
    for name, fact in reason.facts.items():
        if name.endswith("_us") and isinstance(fact, int):
            filled[name.removesuffix("_us")] = local(fact)
        elif isinstance(fact, list):
            filled[name] = ", ".join(fact)
        else:
            filled[name] = str(fact)
    return filled
