"""Short cautions, shown at the moment they matter. They never replace the manufacturer's instructions or the label."""

from __future__ import annotations

from typing import Final

GENERAL: Final = (
    "This program guides and records. It does not replace the manufacturer's instructions, the product label, "
    "local rules or your training. If they differ, stop and ask your supervisor."
)
DEMO: Final = "Fictional data. Not for clinical use."
EXAMPLE: Final = "Example or unconfirmed numbers: `reprocess publish live` lists which files."

CAUTIONS: Final[dict[str, str]] = {
    "general": GENERAL,
    "label": "The label governs. Keep the surface visibly wet all the time; if it dries, wet it and start again.",
    "ppe": "Gloves, eye and face protection, gown as local rules say. Do not touch the clean side with these gloves.",
    "chem_mix": "Never mix chlorine with acids, ammonia or other cleaners: toxic gas. Rinse first.",
    "eyewash": "Corrosive. Know where the nearest eyewash and shower are.",
    "vapour": "Keep the lid closed and the ventilation on. Leave and report if you smell it or feel irritation.",
    "blower": "Never immerse or rinse a blower. Close every port. Damp wipe only.",
    "battery": (
        "Do not charge a pack that is cracked, bulging, hot, leaking or wet. Move away, use the fire-safe container, "
        "tell your supervisor."
    ),
    "hepa": "Do not wash, blow out, tap or spray a filter. If it is wet or dirty, discard it.",
    "rinse": "Rinse completely: residue harms skin and rubber.",
    "hold": "STOP. Quarantine. Do not use.",
    "wearer": (
        "Check tube, blower, gaskets, plug and flow now. At the low-battery alarm about 30 minutes are left: leave "
        "safely. If flow stops, leave at once. Ask the safety lead about further protective equipment."
    ),
    "not_life": "It filters air and supplies no oxygen. Not for oxygen-poor or immediately dangerous air.",
    "recall_in_use": "Finish safely, leave the room, take the unit off in the usual order, then return it.",
    "privacy": "Confidential. Access is recorded.",
    "attested": "This time was written by hand, not measured.",
}
"""Texts by key; workflows and agents name the keys."""
