"""Printed tables and measured data that the tests of kinetics read; data only, nothing is compared here."""

from collections.abc import Iterator
from fractions import Fraction

GIARDIA_PH = ("6.0", "6.5", "7.0", "7.5", "8.0", "8.5", "9.0")
GIARDIA = """
    0.5  0.4   137  163  195  237  277  329  390
    0.5  0.8   145  172  205  246  295  354  422
    0.5  1     148  176  210  253  304  365  437
    0.5  1.2   152  180  215  259  313  376  451
    0.5  3     181  217  261  316  382  460  552
    5    0.4    97  117  139  166  198  236  279
    5    0.8   103  122  146  175  210  252  301
    5    1     105  125  149  179  216  260  312
    5    1.2   107  127  152  183  221  267  320
    5    3     126  151  182  221  268  324  389
    10   0.4    73   88  104  125  149  177  209
    10   0.8    78   92  110  131  158  189  226
    10   1      79   94  112  134  162  195  234
    10   1.2    80   95  114  137  166  200  240
    10   3      95  113  137  166  201  243  292
    15   0.4    49   59   70   83   99  118  140
    15   0.8    52   61   73   88  105  126  151
    15   1      53   63   75   90  108  130  156
    15   1.2    54   64   76   92  111  134  160
    15   3      63   76   91  111  134  162  195
    20   0.4    36   44   52   62   74   89  105
    20   0.8    39   46   55   66   79   95  113
    20   1      39   47   56   67   81   98  117
    20   1.2    40   48   57   69   83  100  120
    20   3      47   57   68   83  101  122  146
    25   0.4    24   29   35   42   50   59   70
    25   0.8    26   31   37   44   53   63   75
    25   1      26   31   37   45   54   65   78
    25   1.2    27   32   38   46   55   67   80
    25   3      32   38   46   55   65   81   97
"""
"""CT in mg min/L for 3 powers of ten of Giardia by free chlorine, part of the rows: degrees Celsius, mg/L of free
chlorine, then a CT for each pH. Source: US EPA 815-R-20-003 (June 2020), Table B-1, read in a package that carries it.
"""

VIRUS_PH = ("9", "10")
VIRUSES = """
    0.5 12 90
    5 8 60
    10 6 45
    15 4 30
    20 3 22
    25 2 15
"""
"""CT in mg min/L for 4 powers of ten of viruses by free chlorine: degrees Celsius, then a CT up to each pH. Source: as
above, Table B-2.
"""

CHLORINE_MG_PER_L = 0.2
LOG_SURVIVAL = {
    0.25: """
        -13.62099 -11.28665 -11.25588 -9.31470 -4.68094 -2.63906 -2.40596 -2.25040 -10.14761 -9.96529
        -9.80209 -6.30816 -4.73363 -4.77962 -11.70163 -6.39426 -12.34029 -7.03481 -5.09816 -4.21497
        -4.66177 -5.36765 -4.84916 -4.95537 -3.02105 -4.25419 -9.92980 -10.14547 -5.97856 -5.25858
        -4.57741 -3.86045 -8.80130 -5.34016 -11.60287
    """,
    0.5: """
        -13.46453 -15.82596 -8.19520 -12.24725 -8.78114 -12.20725 -8.44742 -7.61283 -11.45720 -11.78501
        -13.38540 -9.10782 -6.15800 -8.81962 -6.68941 -6.16331 -6.07370 -14.50866 -13.79304 -12.62297
        -12.67868 -13.65951 -12.61805 -9.03849 -8.17627 -7.62622 -12.82665 -15.03392
    """,
    1: """
        -15.86105 -13.54981 -13.09455 -10.89892 -10.60856 -14.52059 -12.27988 -10.51485 -7.72796 -8.77319
        -6.76945 -6.77992 -6.04553 -14.79634 -15.76142 -13.91082 -16.45457 -10.78901 -10.50132 -9.68034
    """,
}
"""ln(N / N0) by minutes, 83 rows at 0.2 mg/L of chlorine. Source: ek_survival.csv of Holcomb and others, Emerging
Infectious Diseases 2024;30(10), doi 10.3201/eid3010.240917, column lnS, to five decimals (Apache-2.0).
"""

CHLORINE_LEFT = {
    "EkA": """
        1 0.05 0.16  0.5 0.13 0.22  1 0.12 0.22  0.5 0.10 0.21  1 0.09 0.21  0.5 0.10 0.22
        1 0.08 0.22  0.5 0.11 0.22  1 0.06 0.22  0.5 0.18 0.22  1 0.20 0.22
    """,
    "EkM": """
        0.5 0.12 0.21  1 0.08 0.21  0.5 0.10 0.21  1 0.06 0.21  0.5 0.14 0.19  1 0.10 0.19
        0.5 0.10 0.24  1 0.09 0.24  0.5 0.11 0.22  1 0.11 0.22  0.5 0.18 0.23  1 0.16 0.23
    """,
}
"""Minutes, mg/L of chlorine left and mg/L at the start, 23 rows by species. Source: chlorine_dose.csv of the same."""


def survival() -> list[tuple[float, float]]:
    """Returns (minutes, ln(N / N0)) of every row."""
    return [(minutes, float(word)) for minutes, text in LOG_SURVIVAL.items() for word in text.split()]


def chlorine_left(species: str) -> list[tuple[float, Fraction]]:
    """Returns (minutes, share of the chlorine left) of every row of a species."""
    words = [Fraction(word) for word in CHLORINE_LEFT[species].split()]
    return [(float(minutes), left / start) for minutes, left, start in zip(*[iter(words)] * 3, strict=True)]


def numbers(table: str) -> Iterator[list[Fraction]]:
    """Yields the rows of a printed table."""
    for line in table.split("\n"):
        if line.strip():
            yield [Fraction(word) for word in line.split()]
