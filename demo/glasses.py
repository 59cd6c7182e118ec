"""Own analyses of the invented workshop. The figures are made up within what such glasses hold; wt%."""

from dataclasses import dataclass

INVENTED = "invented"
SITE = "Nowhere Quay, an invented site"
KEEPER = "Keeper of the invented finds store"
NOTE = "Invented for the demo: no such find, no such analysis."


@dataclass(frozen=True)
class OwnAnalysis:
    """One analysis as typed: amounts in wt%, as text."""

    name: str
    family: str
    period: str
    surface: str
    amounts: dict[str, str]
    note: str = NOTE

    def body(self) -> dict:
        """The body of a glass.added entry."""
        return {
            "name": self.name,
            "family": self.family,
            "period": self.period,
            "region": SITE,
            "source": "Invented figures, demo workshop",
            "note": self.note,
            "surface": self.surface,
            "replaces": "",
            "amounts": [{"name": oxide, "text": text, "unit": "wt"} for oxide, text in self.amounts.items()],
        }


GLASSES = {
    "bead": OwnAnalysis(
        "Demo bead glass, soft opaque white (invented)",
        "modern bead glass",
        "modern",
        "not stated",
        {"SiO2": "68.4", "Al2O3": "1.7", "Na2O": "17.3", "K2O": "2.6", "CaO": "5.4", "MgO": "2.4", "Fe2O3": "0.05", "ZnO": "1.2"},
    ),
    "natron": OwnAnalysis(
        "Demo natron glass, raw chunk, find 12 (invented)",
        "natron glass",
        "invented, 6th century",
        "section",
        {"SiO2": "69.3", "Al2O3": "2.6", "Na2O": "16.4", "K2O": "0.7", "CaO": "8.1", "MgO": "0.6", "Fe2O3": "0.42", "MnO": "0.55", "TiO2": "<0.1"},
    ),
    "wood-ash": OwnAnalysis(
        "Demo wood-ash glass, crucible drip, find 31 (invented)",
        "potash-lime (wood-ash) glass",
        "invented, 13th century",
        "section",
        {"SiO2": "53.2", "Al2O3": "2.1", "Na2O": "0.9", "K2O": "14.8", "CaO": "18.6", "MgO": "4.4", "P2O5": "3.1", "Fe2O3": "0.6", "MnO": "1.1"},
    ),
    "plant-ash": OwnAnalysis(
        "Demo plant-ash glass, vessel wall, find 8 (invented)",
        "plant-ash soda glass",
        "invented, 9th century",
        "weathered",
        {"SiO2": "67.4", "Al2O3": "1.5", "Na2O": "12.9", "K2O": "2.3", "CaO": "8.6", "MgO": "4.1", "Fe2O3": "0.5", "MnO": "0.9"},
        f"{NOTE} The surface is weathered; soda may read low.",
    ),
}
