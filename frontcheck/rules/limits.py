"""The limits of the texts, in words: of their tests, and never of anything formed here."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from frontcheck.rules.ruleset import RuleSet


def limits_said(rules: RuleSet) -> str:
    """Return the limits of the legform tests, with how they are known."""
    limit = {c.name.removeprefix("limits."): c for c in rules}
    lower = (
        f"flexible lower legform, tibia bending {limit['tibia_bending_Nm'].plain} "
        f"({limit['tibia_bending_nominated_Nm'].plain} over at most "
        f"{limit['nominated_width_mm'].plain} in total, if nominated), elongation of MCL "
        f"{limit['mcl_mm'].plain}, of ACL and PCL {limit['acl_pcl_mm'].plain}"
    )
    known = [limit["tibia_bending_Nm"], limit["upper_force_kN"]]
    if not rules.flag("legform.flexible"):
        lower = (
            f"rigid lower legform, tibia acceleration {limit['tibia_acceleration_g'].plain}, knee "
            f"bending {limit['knee_bending_deg'].plain}, knee shear {limit['knee_shear_mm'].plain}"
        )
        known[0] = limit["tibia_acceleration_g"]
    how = dict.fromkeys(f"{c.provenance}, {c.paragraph}".rstrip(", ") for c in known)
    return (
        f"Limits of the text's tests: {lower}; upper legform, sum of forces "
        f"{limit['upper_force_kN'].plain}, bending {limit['upper_bending_Nm'].plain} "
        f"({'; '.join(how)}). Nothing given here is to be held against them."
    )
