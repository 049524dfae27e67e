"""Symbols of plastics and fillers, as far as printing meets them.

Polymers after ISO 1043-1 with the trade's spellings beside them, fillers after ISO 1043-2 (first letter the kind,
second the form), polyamides after ISO 16396-1. The lists were written from memory of the standards; GF, GCM, MD and
MED(Al) were read in a copy of ISO 1043-2, PA6T/66 MH, 14-190, GF50 in an account of ISO 16396-1:2022.
"""

from collections.abc import Mapping

POLYMERS: Mapping[str, str] = {
    "ABS": "acrylonitrile-butadiene-styrene",
    "ASA": "acrylonitrile-styrene-acrylate",
    "COC": "cyclo-olefin copolymer",
    "EVAC": "ethylene-vinyl acetate",
    "PA": "polyamide",
    "PAI": "polyamide-imide",
    "PBT": "poly(butylene terephthalate)",
    "PC": "polycarbonate",
    "PCL": "polycaprolactone",
    "PCTG": "glycol-modified PCT, a copolyester",
    "PE": "polyethylene",
    "PE-HD": "polyethylene of high density",
    "PE-LD": "polyethylene of low density",
    "PEEK": "polyether ether ketone",
    "PEI": "polyether imide",
    "PEKK": "polyether ketone ketone",
    "PES": "polyether sulfone",
    "PET": "poly(ethylene terephthalate)",
    "PETG": "glycol-modified PET, a copolyester",
    "PHA": "polyhydroxyalkanoate",
    "PLA": "polylactide",
    "PMMA": "poly(methyl methacrylate), acrylic",
    "POM": "polyoxymethylene, acetal",
    "PP": "polypropylene",
    "PPA": "polyphthalamide, a partly aromatic polyamide",
    "PPE": "polyphenylene ether",
    "PPS": "polyphenylene sulfide",
    "PPSU": "polyphenylene sulfone",
    "PS": "polystyrene",
    "PS-HI": "polystyrene, high impact",
    "PSU": "polysulfone",
    "PVAL": "poly(vinyl alcohol)",
    "PVB": "poly(vinyl butyral)",
    "PVC": "poly(vinyl chloride)",
    "PVDF": "poly(vinylidene fluoride)",
    "SAN": "styrene-acrylonitrile",
    "SB": "styrene-butadiene",
    "TPC": "thermoplastic copolyester elastomer",
    "TPE": "thermoplastic elastomer, kind not said",
    "TPU": "thermoplastic polyurethane elastomer",
}
SPELLINGS: Mapping[str, str] = {  # trade spelling -> symbol
    "HDPE": "PE-HD",
    "LDPE": "PE-LD",
    "HIPS": "PS-HI",
    "PVA": "PVAL",
    "EVA": "EVAC",
    "PESU": "PES",
    "PPO": "PPE",
    "NYLON": "PA",
    "POLYAMIDE": "PA",
    "POLYCARBONATE": "PC",
    "POLYPROPYLENE": "PP",
    "ACETAL": "POM",
    "ACRYLIC": "PMMA",
}
JOINED: Mapping[tuple[str, str], str] = {  # symbol and the letters after it that belong to it
    ("PET", "G"): "PETG",
    ("PCT", "G"): "PCTG",
    ("PE", "HD"): "PE-HD",
    ("PE", "LD"): "PE-LD",
    ("PS", "HI"): "PS-HI",
    ("TPE", "U"): "TPU",
    ("TPE", "C"): "TPC",
}
ELASTOMERS = {"TPU", "TPE", "TPC"}

# ISO 1043-2: kind, then form.
KINDS: Mapping[str, str] = {
    "A": "aramid",
    "B": "boron",
    "C": "carbon",
    "D": "alumina trihydrate",
    "E": "clay",
    "G": "glass",
    "K": "calcium carbonate",
    "L": "cellulose",
    "M": "mineral",
    "ME": "metal",
    "N": "natural organic",
    "P": "mica",
    "Q": "silica",
    "S": "synthetic organic",
    "T": "talc",
    "W": "wood",
    "X": "not specified",
    "Z": "other",
}
FORMS: Mapping[str, str] = {
    "B": "beads",
    "C": "chips",
    "CM": "chopped-strand mat",
    "D": "powder",
    "F": "fibre",
    "G": "ground",
    "H": "whisker",
    "K": "knitted fabric",
    "L": "layer",
    "M": "mat",
    "N": "non-woven",
    "P": "paper",
    "R": "roving",
    "S": "flakes",
    "V": "veneer",
    "W": "woven fabric",
    "X": "not specified",
    "Y": "yarn",
    "Z": "other",
}
COMMON_FILLERS = {"GF", "CF", "AF", "GB", "GD", "MD", "MF", "MX", "TD", "KD", "WD", "WF", "NF", "GCM", "MED"}
ALONE = {"T", "M"}  # written by the trade without a form, before a share: T20, M40
WORDS_KIND: Mapping[str, str] = {
    "CARBON": "C",
    "GLASS": "G",
    "GLASSFIBRE": "GF",
    "GLASSFIBER": "GF",
    "CARBONFIBRE": "CF",
    "CARBONFIBER": "CF",
    "ARAMID": "A",
    "TALC": "TD",
    "TALCUM": "TD",
    "WOOD": "W",
    "MINERAL": "M",
}
WORDS_FORM: Mapping[str, str] = {
    **dict.fromkeys(("FIBRE", "FIBER", "FIBRES", "FIBERS"), "F"),
    **dict.fromkeys(("BEAD", "BEADS"), "B"),
    "POWDER": "D",
}
COLOURS = {
    "BLACK", "WHITE", "GREY", "GRAY", "RED", "ORANGE", "YELLOW", "GREEN", "BLUE", "PURPLE", "VIOLET", "BROWN", "PINK",
    "NATURAL", "CLEAR", "TRANSPARENT", "DARK", "LIGHT",
}  # fmt: skip
SILENT = COLOURS | {"FILLED", "REINFORCED", "WITH", "FILAMENT", "SHORE", "PERCENT", "WT", "MASS"}

# ISO 16396-1: a polyamide's numbers, and the carbon atoms that they count.
PA_NUMBERS: Mapping[str, str] = {
    "4T": "4 in the diamine, terephthalic acid",
    "6": "6 in caprolactam",
    "6I": "6 in the diamine, isophthalic acid",
    "6T": "6 in the diamine, terephthalic acid",
    "9T": "9 in the diamine, terephthalic acid",
    "10T": "10 in the diamine, terephthalic acid",
    "11": "11 in aminoundecanoic acid",
    "12": "12 in laurolactam",
    "46": "4 in the diamine, 6 in the diacid",
    "56": "5 in the diamine, 6 in the diacid",
    "66": "6 in the diamine, 6 in the diacid",
    "69": "6 in the diamine, 9 in the diacid",
    "410": "4 in the diamine, 10 in the diacid",
    "510": "5 in the diamine, 10 in the diacid",
    "610": "6 in the diamine, 10 in the diacid",
    "612": "6 in the diamine, 12 in the diacid",
    "1010": "10 in the diamine, 10 in the diacid",
    "1012": "10 in the diamine, 12 in the diacid",
    "1212": "12 in the diamine, 12 in the diacid",
    "MXD6": "m-xylylenediamine, 6 in the diacid",
}
PA_USES = set("BCEFGHKLMNQRSTVWXZ")  # letters of data block 2; only told apart from words by the numbers after them

TRADE = {
    "HT": "often said of higher temperature",
    "HR": "often said of heat resistance",
    "HF": "often said of fast flow",
    "HS": "often said of high speed",
    "HI": "often said of high impact",
    "LT": "often said of low temperature",
    "LW": "often said of light weight",
    "ESD": "often said of static dissipation",
    "FR": "flame retardant: ISO 1043-4 writes FR with a number in brackets",
    "R": "often said of recyclate",
    "PRO": "no agreed meaning",
    "PLUS": "no agreed meaning",
    "MAX": "no agreed meaning",
    "ULTRA": "no agreed meaning",
    "TOUGH": "no agreed meaning",
    "SILK": "a look",
    "MATT": "a look",
    "MATTE": "a look",
}
LOOK_ALIKES: tuple[tuple[str, ...], ...] = (
    ("PA", "PPA", "PLA", "PAI"),
    ("PP", "PPS", "PPE", "PPA", "PPSU"),
    ("PPS", "PPSU", "PSU", "PES"),
    ("PE", "PET"),
    ("PEI", "PEEK", "PEKK", "PES"),
    ("PC", "PCL", "PCTG"),
    ("PS", "PSU", "PPS"),
    ("PVAL", "PVB", "PVC"),
    ("PET", "PBT"),
    ("PET", "PETG", "PCTG"),
    ("TPU", "TPE", "TPC"),
    ("ABS", "ASA"),
)
