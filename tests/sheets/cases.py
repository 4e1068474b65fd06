"""Sheets as people write them, with what they mean: seconds, gauge kPa.

The sheets are invented for these tests. Unit factors: NIST SP 811 (2008), Appendix B.8, as printed there.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

PSI = 6.894757
INHG = 3.386389
MMHG = 0.1333224
INH2O = 0.2490889
BAR, MBAR, KGF = 100.0, 0.1, 98.0665


@dataclass(frozen=True)
class Good:
    """A sheet, the options, and what must come out."""

    name: str
    text: str | bytes
    seconds: list[float]
    values: list[float]
    factor: float
    options: dict[str, Any] = field(default_factory=dict)

    @property
    def kpa(self) -> list[float]:
        """Expected gauge pressures, kPa."""
        return [value * self.factor for value in self.values]


T = [0.0, 30.0, 60.0]
P = [30.0, 29.5, 28.0]

LAYOUT = [
    Good("plain", "time_s,pressure_psi\n0,30\n30,29.5\n60,28\n", T, P, PSI),
    Good("no final line feed", "time_s,pressure_psi\n0,30\n30,29.5\n60,28", T, P, PSI),
    Good("tabs", "Time (s)\tPressure (psi)\n0\t30\n30\t29.5\n60\t28\n", T, P, PSI),
    Good("semicolons, decimal comma", "Zeit (s);Druck (bar)\n0;0,30\n30;0,295\n60;0,28\n", T, [0.3, 0.295, 0.28], BAR),
    Good("tabs, decimal comma", "t / s\tp / kPa\n0\t30,0\n30\t29,5\n60\t28,0\n", T, P, 1),
    Good("pipes", "time s|p kPa\n0|30\n30|29.5\n60|28\n", T, P, 1),
    Good("table with rules", "| time (s) | p (kPa) |\n|---|---|\n| 0 | 30 |\n| 30 | 29.5 |\n| 60 | 28 |\n", T, P, 1),
    Good(
        "aligned columns", "Time (s)    Pressure (psi)\n0           30\n30          29.5\n60          28\n", T, P, PSI
    ),
    Good("single blanks", "t_s p_kPa\n0 30\n30 29.5\n60 28\n", T, P, 1),
    Good("single blanks, units apart", "time (s) pressure (kPa)\n0 30\n30 29.5\n60 28\n", T, P, 1),
    Good("blanks and decimal comma", "t [s]  p [kPa]\n0  30,0\n30  29,5\n60  28,0\n", T, P, 1),
    Good("single blanks, decimal comma", "t_s p_kPa\n0 30,0\n30 29,5\n60 28,0\n", T, P, 1),
    Good("blanks, units in cells", "time  reading\n0 s  30 psi\n30 s  29.5 psi\n60 s  28 psi\n", T, P, PSI),
    Good("single blanks, units in cells", "time reading\n0 s 30 psi\n30 s 29.5 psi\n60 s 28 psi\n", T, P, PSI),
    Good("sep line", "sep=;\ntime (s);kPa\n0;30\n30;29.5\n60;28\n", T, P, 1),
    Good("sep line, comma", "sep=,\r\ntime (s),kPa\r\n0,30\r\n30,29.5\r\n60,28\r\n", T, P, 1),
    Good("CR only", "Sec,Psig\r0,30\r30,29.5\r60,28\r", T, P, PSI),
    Good("quoted decimal commas", 't (s),p (kPa)\n0,"30,0"\n30,"29,5"\n60,"28,0"\n', T, P, 1),
    Good("all quoted", '"t (s)","p (kPa)"\n"0","30.0"\n"30","29.5"\n"60","28.0"\n', T, P, 1),
    Good("lines quoted whole", '"t (s),p (kPa)"\n"0,30.0"\n"30,29.5"\n"60,28.0"\n', T, P, 1),
    Good("line feed in a quoted heading", '"Time\n(s)","Pressure\n(kPa)"\n0,30\n30,29.5\n60,28\n', T, P, 1),
    Good("trailing commas", "t (s),p (kPa),,\n0,30,,\n30,29.5,,\n60,28,,\n", T, P, 1),
    Good("trailing comma on rows", "t (s),p (kPa)\n0,30,\n30,29.5,\n60,28,\n", T, P, 1),
    Good("title and blank rows", "Leak sheet,,\n\n,,\nTime (s),p (kPa),\n\n0,30,\n30,29.5,\n\n60,28,\n", T, P, 1),
    Good("unit row", "Time,Pressure\ns,kPa\n0,30\n30,29.5\n60,28\n", T, P, 1),
    Good("bracketed unit row", "Time;Pressure\n[min];[psi]\n0;30\n0,5;29,5\n1;28\n", T, P, PSI),
    Good(
        "merged headings",
        "Saw no. 7,,\n,Gauge,\nTime,Pressure,Remarks\nmin,psi,\n0,30,ok\n0.5,29.5,\n1,28,\n",
        T,
        P,
        PSI,
    ),
    Good("merged vacuum heading", ",Vacuum\nTime (s),kPa\n0,30\n30,29.5\n60,28\n", T, P, -1),
    Good("rule below headings", "Time (s)  kPa\n--------  ---\n0         30\n30        29.5\n60        28\n", T, P, 1),
    Good("row numbers", "No.,Time (s),Pressure (kPa)\n1,0,30\n2,30,29.5\n3,60,28\n", T, P, 1),
    Good("row numbers #", "#,Time (s),Pressure (kPa)\n1,0,30\n2,30,29.5\n3,60,28\n", T, P, 1),
    Good("row numbers named Reading", "Reading,Time (s),Pressure (kPa)\n1,0,30\n2,30,29.5\n3,60,28\n", T, P, 1),
    Good("row numbers, weak headings", "Reading,Time (s),Gauge\n1,0,30 psi\n2,30,29.5 psi\n3,60,28 psi\n", T, P, PSI),
    Good("row numbers without heading", ",time (s),p (kPa)\n0,0,30\n1,30,29.5\n2,60,28\n", T, P, 1),
    Good("pressure first", "Pressure (kPa),Time (s)\n30,0\n29.5,30\n28,60\n", T, P, 1),
    Good(
        "comments of every kind",
        "# one\n// two\n* three\n; four\n% five\nt (s),kPa\n0,30\n# six\n30,29.5\n60,28\n",
        T,
        P,
        1,
    ),
    Good("commented headings", "# shop log\n# time_s  pressure_kPa\n0  30\n30  29.5\n60  28\n", T, P, 1),
    Good("footer", "t (s),kPa\n0,30\n30,29.5\n60,28\n\nAverage,29.2\nSigned: J. Doe,\nend pressure: 28 kPa\n", T, P, 1),
    Good("footer in words", "t (s),kPa\n0,30\n30,29.5\n60,28\nNo bubbles seen at the seal\n", T, P, 1),
    Good("date below", "t (s),kPa\n0,30\n30,29.5\n60,28\n12.05.2024,J. Doe\n", T, P, 1),
    Good("text row between", "t (s),kPa\n0,30\nkettle on nearby\n30,29.5\n60,28\n", T, P, 1),
    Good("headings repeated", "t (s),kPa\n0,30\n30,29.5\nt (s),kPa\n60,28\n", T, P, 1),
    Good(
        "preamble with commas",
        "Saw, red, cold\nGauge: 0-60 psi, reads to 1 psi\nt (s),psi\n0,30\n30,29.5\n60,28\n",
        T,
        P,
        PSI,
    ),
    Good(
        "sentence that sounds like headings",
        "Time was short, pressure gauge borrowed\nt (s),psi\n0,30\n30,29.5\n60,28\n",
        T,
        P,
        PSI,
    ),
    Good(
        "preamble in two cells",
        "Date;2024-05-01\nBarometer;1006;mbar\nZeit;Druck\nmin;mbar\n0;300\n0,5;295\n1;280\n",
        T,
        P,
        1,
    ),
    Good("date and time in the preamble", "Date,2024-05-01,Time,14:00\nt (s),kPa\n0,30\n30,29.5\n60,28\n", T, P, 1),
    Good("remarks with commas", "t (s),kPa,remarks\n0,30,pump shut\n30,29.5,phone, again\n60,28,\n", T, P, 1),
    Good("remark without a heading", "t (s),kPa\n0,30\n30,29.5,phone rang\n60,28\n", T, P, 1),
    Good("repeated row", "t (s),kPa\n0,30\n30,29.5\n30,29.5\n60,28\n", T, P, 1),
    Good("headless with a unit", "0,30\n30,29.5\n60,28\n", T, P, PSI, {"unit": "psi"}),
    Good("headless with units in cells", "0 s,30 psi\n30 s,29.5 psi\n60 s,28 psi\n", T, P, PSI),
    Good("headless, row numbers", "1,0,30\n2,30,29.5\n3,60,28\n", T, P, PSI, {"unit": "psi"}),
    Good("unknown headings with a unit", "A,B\n0,30\n30,29.5\n60,28\n", T, P, 1, {"unit": "kPa"}),
    Good("unit in a title", "All readings in psi\nTime (s),Gauge\n0,30\n30,29.5\n60,28\n", T, P, PSI),
    Good("words run together", "ElapsedSeconds,PressurePsi\n0,30\n30,29.5\n60,28\n", T, P, PSI),
    Good("absolute by title", "Absolute readings, barometer 100 kPa\nt (s),kPa\n0,130\n30,129.5\n60,128\n", T, P, 1),
    Good("unit in the preamble", "Unit: kPa\nTime (s),Reading\n0,30\n30,29.5\n60,28\n", T, P, 1),
]

ENCODED = [
    Good("UTF-8 BOM", "\ufefftime (s),kPa\n0,30\n30,29.5\n60,28\n".encode(), T, P, 1),
    Good("UTF-16 with BOM", "time (s)\tkPa\r\n0\t30\r\n30\t29.5\r\n60\t28\r\n".encode("utf-16"), T, P, 1),
    Good("UTF-16 LE without BOM", "time (s),kPa\n0,30\n30,29.5\n60,28\n".encode("utf-16-le"), T, P, 1),
    Good("UTF-16 BE without BOM", "time (s),kPa\n0,30\n30,29.5\n60,28\n".encode("utf-16-be"), T, P, 1),
    Good("UTF-16 BE with BOM", b"\xfe\xff" + "time (s),kPa\n0,30\n30,29.5\n60,28\n".encode("utf-16-be"), T, P, 1),
    Good("Latin-1", "Zeit (s);Überdruck (mbar);T (°C)\n0;300;21\n30;295;21\n60;280;21\n".encode("latin-1"), T, P, 1),
    Good("cp1252", "t – s;Druck (mbar) €\n0;300\n30;295\n60;280\n".encode("cp1252"), T, P, 1),
    Good("NUL tail", b"time (s),kPa\n0,30\n30,29.5\n60,28\n" + b"\0" * 512, T, P, 1),
    Good("NULs between", b"time (s),kPa\n0,30\n30,29.5\n" + b"\0" * 64 + b"60,28\n", T, P, 1),
    Good("end-of-file sign", b"time (s),kPa\r\n0,30\r\n30,29.5\r\n60,28\r\n\x1a", T, P, 1),
]


def _headed(heading: str, factor: float, **options: Any) -> Good:
    quoted = heading if '"' in heading or "," not in heading else f'"{heading}"'
    return Good(f"heading {heading}", f"time (s),{quoted}\n0,30\n30,29.5\n60,28\n", T, P, factor, options)


UNITS = [
    *[
        _headed(h, PSI)
        for h in (
            "psi",
            "PSI",
            "Psig",
            "P (psi)",
            "pressure_psi",
            "p.s.i.",
            "gauge psi",
            "lb/in2",
            "lbf/in²",
            "psi(g)",
            "Pressure, psig",
            "Press. [PSI]",
            "Boost psi",
            "lbs/sq in",
            "Pressure in psi",
            "lb/sq.in.",
            "psi gauge",
            "Reading (psi)",
            "psid",
        )
    ],
    *[
        _headed(h, 1.0)
        for h in (
            "kPa",
            "p / kPa",
            "p_kPa",
            "pressure_kpa_gauge",
            "Druck [kPa]",
            "presión (kPa)",
            "pression kPa",
            "kPag",
            "kPa (gauge)",
            "Pressione (kPa)",
            "pressão/kPa",
            "KPA",
            "p(kPa)",
            "Tryck kPa",
            "Druk (kPa)",
            "Überdruck in kPa",
            "kPa rel.",
        )
    ],
    *[_headed(h, MBAR) for h in ("mbar", "hPa", "Druck in mbar", "p [mbar]", "mBar", "millibar", "mbar(g)")],
    *[_headed(h, KGF) for h in ("kgf/cm2", "kg/cm²", "p (kgf/cm^2)")],
    *[
        _headed(h, INH2O)
        for h in (
            "in. w.c.",
            "pressure, in. w.c.",
            "inH2O",
            "in H2O",
            "inches of water",
            "inH₂O",
            "in. WC",
            "inches w.g.",
        )
    ],
    *[_headed(h, MMHG) for h in ("mmHg", "mm Hg", "p (mm Hg)")],
    *[
        _headed(h, -INHG)
        for h in (
            "vacuum inHg",
            "inHg",
            "Vac. (in. Hg)",
            "in Hg",
            "vacuum, inches Hg",
            "Inches of mercury",
            'Vacuum ["Hg]',
            "gauge (inHg)",
        )
    ],
    *[
        _headed(h, -1.0)
        for h in (
            "vacuum (kPa)",
            "Vakuum kPa",
            "Vide (kPa)",
            "Unterdruck [kPa]",
            "vacío (kPa)",
            "Dépression kPa",
            "Vac kPa",
        )
    ],
    _headed("bar", BAR),
    _headed("barg", BAR),
    _headed("Druck (bar)", BAR),
    _headed("barü", BAR),
    Good("MPa", "time (s),MPa\n0,0.30\n30,0.295\n60,0.28\n", T, [0.3, 0.295, 0.28], 1000),
    Good("Pa", "time (s),p (Pa)\n0,30000\n30,29500\n60,28000\n", T, P, 1),
    Good("oz/in2", "time (s),oz/in2\n0,30\n30,29.5\n60,28\n", T, P, PSI / 16),
    Good("unit overridden", "time (s),Pressure (ATM)\n0,30\n30,29.5\n60,28\n", T, P, PSI, {"unit": "psi"}),
    Good("units in cells", "when,reading\n0,30 psi\n0.5 min,29.5psi\n1min,28 PSI\n", T, P, PSI),
    Good("unit in the first cell only", "time (s),reading\n0,30 psi\n30,29.5\n60,28\n", T, P, PSI),
    Good("mixed units in cells", "time (s),reading\n0,1 bar\n30,950 mbar\n60,90 kPa\n", T, [100, 95, 90], 1),
    Good("cell unit beside a heading unit", "time (s),p (bar)\n0,1\n30,950 mbar\n60,0.9\n", T, [100, 95, 90], 1),
    Good("inHg in cells", "time (s),reading\n0,20 inHg\n30,19 inHg\n60,18 inHg\n", T, [20, 19, 18], -INHG),
    Good("vacuum as told", "time (s),kPa\n0,30\n30,29.5\n60,28\n", T, P, -1, {"direction": "vacuum"}),
    Good("vacuum by key", "# direction: vacuum\ntime (s),kPa\n0,30\n30,29.5\n60,28\n", T, P, -1),
    Good("vacuum by title", "Vacuum test of the case\ntime (s),kPa\n0,30\n30,29.5\n60,28\n", T, P, -1),
    Good("negative stays negative", "time (s),kPa\n0,-30\n30,-29.5\n60,-28\n", T, P, -1, {"direction": "vacuum"}),
    Good("negative in a vacuum column", "time (s),vacuum kPa\n0,-30\n30,-29.5\n60,-28\n", T, P, -1),
    Good("typographic minus", "time (s),kPa\n0,\u221230\n30,\u221229.5\n60,\u221228\n", T, P, -1),
    Good("negative inHg", "time (s),inHg\n0,-20\n30,-19\n60,-18\n", T, [20, 19, 18], -INHG),
    Good(
        "inHg pressure as told", "time (s),inHg\n0,20\n30,19\n60,18\n", T, [20, 19, 18], INHG, {"direction": "pressure"}
    ),
    Good(
        "absolute by heading",
        "Barometer: 1006 mbar\nt (s),mbar abs\n0,1506\n30,1492\n60,1479\n",
        T,
        [500, 486, 473],
        MBAR,
    ),
    Good(
        "absolute, psia",
        "t (s),psia\n0,24.7\n30,24.2\n60,23.7\n",
        T,
        [10, 9.5, 9],
        PSI,
        {"barometer_pa": 14.7 * PSI * 1000},
    ),
    Good(
        "absolute by option",
        "# barometer: 100 kPa\nt (s),p (kPa)\n0,150\n30,148\n60,146\n",
        T,
        [50, 48, 46],
        1,
        {"absolute": True},
    ),
    Good(
        "absolute vacuum",
        "Luftdruck;1000 mbar\nt (s);p_abs (mbar)\n0;600\n30;610\n60;620\n",
        T,
        [-400, -390, -380],
        MBAR,
    ),
    Good(
        "barometer in inHg",
        "Baro: 29.92 inHg\nt (s),kPa abs\n0,151.3208\n30,150.8208\n60,149.3208\n",
        T,
        [50.0, 49.5, 48.0],
        1,
    ),
    Good("absolute beside gauge", "t (s),p abs (kPa),p gauge (kPa)\n0,131,30\n30,130.5,29.5\n60,129,28\n", T, P, 1),
    Good("two columns that agree", "t (s),psi,kPa\n0,30,206.8\n30,29.5,203.4\n60,28,193.1\n", T, P, PSI),
    Good("two columns, one blank", "t (s),Pressure (kPa),Vacuum (inHg)\n0,30,\n30,29.5,\n60,28,\n", T, P, 1),
    Good(
        "two columns, one asked for by unit",
        "t (s),psi,kPa\n0,30,100\n30,29.5,99\n60,28,98\n",
        T,
        P,
        PSI,
        {"unit": "psi"},
    ),
    Good("drop column beside", "t (s),p (kPa),drop (kPa)\n0,30,0\n30,29.5,0.5\n60,28,2\n", T, P, 1),
    Good("target column beside", "t (s),target (kPa),p (kPa)\n0,30,30\n30,30,29.5\n60,30,28\n", T, P, 1),
]

NUMBERS = [
    Good("missed readings", "t (s),kPa\n0,30\n10,\n20,-\n25,missed - phone\n27,n/a\n30,29.5\n40,--\n60,28\n", T, P, 1),
    Good("short row", "t (s),kPa\n0,30\n10\n30,29.5\n60,28\n", T, P, 1),
    Good("gauge says OL", "t (s),kPa\n0,30\n10,OL\n30,29.5\n60,28\n", T, P, 1),
    Good("fractions", "t (s),psi\n0,30\n30,29 1/2\n60,28\n", T, P, PSI),
    Good("half sign", "t (s),psi\n0,30\n30,29½\n60,28\n", T, P, PSI),
    Good("about", "t (s),kPa\n0,30\n30,~29.5\n60,28\n", T, P, 1),
    Good(
        "thousands by comma",
        't (s),mbar abs\n0,"1,301.5"\n30,"1,295.0"\n60,"1,280.0"\n',
        T,
        [301.5, 295, 280],
        MBAR,
        {"barometer_pa": 100e3},
    ),
    Good(
        "thousands by point",
        "t (s);mbar abs\n0;1.301,5\n30;1.295,0\n60;1.280,0\n",
        T,
        [301.5, 295, 280],
        MBAR,
        {"barometer_pa": 100e3},
    ),
    Good(
        "thousands by thin blank",
        "t (s);mbar abs\n0;1\u202f301,5\n30;1\u202f295,0\n60;1\u202f280,0\n",
        T,
        [301.5, 295, 280],
        MBAR,
        {"barometer_pa": 100e3},
    ),
    Good(
        "thousands by blank",
        "t (s);mbar abs\n0;1 301,5\n30;1 295,0\n60;1 280,0\n",
        T,
        [301.5, 295, 280],
        MBAR,
        {"barometer_pa": 100e3},
    ),
    Good("thousands, settled by the column", "t (s);mbar\n0;1,301\n30;1,150\n60;998\n", T, [1301, 1150, 998], MBAR),
    Good("decimals, settled by the column", "t (s);bar\n0;1,301\n30;1,15\n60;0,998\n", T, [1.301, 1.15, 0.998], BAR),
    Good("decimals, settled by the times", "t (min);kPa\n0;1,301\n0,5;1,250\n1;1,200\n", T, [1.301, 1.25, 1.2], 1),
    Good("decimals, settled by what can be", "t (s);bar\n0;1,301\n30;1,250\n60;1,200\n", T, [1.301, 1.25, 1.2], BAR),
    Good("point and comma mixed", "t (s);kPa\n0;30.0\n30;29,5\n60;28\n", T, P, 1),
    Good("three decimals", "t (s),bar\n0,1.301\n30,1.250\n60,1.200\n", T, [1.301, 1.25, 1.2], BAR),
    Good("exponents", "t (s),Pa\n0,3.0E+04\n30,2.95e4\n60,2.8e4\n", T, P, 1),
    Good("leading point", "t (s),bar\n0,.30\n30,.295\n60,.28\n", T, [0.3, 0.295, 0.28], BAR),
]


def _timed(name: str, cells: str, seconds: list[float], heading: str = "time", **options: Any) -> Good:
    rows = "".join(f"{cell.strip()};{30 - i}\n" for i, cell in enumerate(cells.split("|")))
    values = [30.0 - i for i in range(len(seconds))]
    return Good(name, f"{heading};p (kPa)\n{rows}", seconds, values, 1, options)


TIMES = [
    _timed("m:ss", "0:00|0:30|1:00|1:30", [0, 30, 60, 90]),
    _timed("mm:ss by heading", "05:00|05:30|06:00", [300, 330, 360], "time (mm:ss)"),
    _timed("m:ss past the hour", "0:00|59:30|60:00|61:15", [0, 3570, 3600, 3675]),
    _timed("m:ss.t", "0:00.0|0:30.5|1:00.0", [0, 30.5, 60]),
    _timed("m:ss,t", "0:00,0|0:30,5|1:00,0", [0, 30.5, 60]),
    _timed("m:ss from one minute", "1:00|2:00|3:30", [60, 120, 210]),
    _timed("h:mm:ss", "0:00:00|0:00:30|0:01:00|1:00:00", [0, 30, 60, 3600]),
    _timed("h:mm:ss not from zero", "0:05:00|0:05:30", [300, 330]),
    _timed("primes", "0'|1'30\"|2'|2'15", [0, 90, 120, 135]),
    _timed("typographic primes", "0′|1′30″|2′", [0, 90, 120]),
    _timed("words", "0 s|30 s|1 min|1 min 30 s|2 min", [0, 30, 60, 90, 120]),
    _timed("words closed up", "0s|30sec|1min|1m30s|2m", [0, 30, 60, 90, 120]),
    _timed("decimal minutes in cells", "0|0.5 min|1,5 min|2 mins", [0, 30, 90, 120]),
    _timed("hours too", "0 min|30 min|1 h|1 h 15 min", [0, 1800, 3600, 4500]),
    _timed("start", "start|30 s|60 s", [0, 30, 60]),
    _timed("sentences", "at start|after 30 s|after 1 min", [0, 30, 60]),
    _timed("colon first", "0|:30|1:00", [0, 30, 60]),
    _timed("fractions of a minute", "0|1/2 min|1 min|1 1/2 min", [0, 30, 60, 90]),
    _timed("half signs", "0 min|½ min|1½ min", [0, 30, 90]),
    _timed("compact ISO stamps", "20240501T140500|20240501T140530", [0, 30]),
    _timed("microseconds", "0|30000000", [0, 30], "time_us"),
    _timed("dotted clock", "14.05|14.06|14.08", [0, 60, 180], "Uhrzeit"),
    _timed("plus signs", "+0|+30|+60", [0, 30, 60], "t (s)"),
    _timed("milliseconds", "0|500|1000|1500", [0, 0.5, 1, 1.5], "t (ms)"),
    _timed("minutes", "0|0,5|1|2", [0, 30, 60, 120], "Minuten"),
    _timed("own zero kept", "10|40|70", [10, 40, 70], "t (s)"),
    Good("before the watch", "t (s);p (kPa)\n-10;30\n0;29\n30;28\n", [0.0, 30.0], [29.0, 28.0], 1),
    _timed("no unit, taken as seconds", "0|30|60", [0, 30, 60]),
    _timed("time unit as told", "0|1|2", [0, 60, 120], time_unit="min"),
    _timed("clock", "14:05:00|14:05:30|14:06:15", [0, 30, 75]),
    _timed("clock, hours and minutes", "14:05|14:06|14:08", [0, 60, 180]),
    _timed("clock by heading", "0:05|0:06|0:08", [0, 60, 180], "Uhrzeit"),
    _timed("clock over midnight", "23:59:00|23:59:30|00:00:30|00:01:00", [0, 30, 90, 120]),
    _timed("clock h:mm over midnight", "23:58|23:59|0:01", [0, 60, 180]),
    _timed("am and pm over noon", "11:58:30 AM|11:59:30 am|12:00:30 PM|12:01:30 p.m.", [0, 60, 120, 180]),
    _timed("am and pm over midnight", "11:59 pm|12:00 am|12:01 a.m.", [0, 60, 120]),
    _timed("pm written once", "11:58 am|11:59|12:01 pm", [0, 60, 180]),
    _timed("am without minutes", "9am|9:01am|9:02 AM", [0, 60, 120]),
    _timed("twelve-hour clock without am", "12:58:00|12:59:00|1:00:00", [0, 60, 120]),
    _timed("clock with Uhr", "14:05 Uhr|14:06 Uhr|14:08 Uhr", [0, 60, 180]),
    _timed("French clock", "14h05|14h06|14h08", [0, 60, 180], "heure"),
    _timed("ISO stamps", "2024-05-01T14:05:00|2024-05-01T14:05:30|2024-05-01T14:06:00", [0, 30, 60], "timestamp"),
    _timed("ISO stamps with a blank", "2024-05-01 23:59:30|2024-05-02 00:00:00.5", [0, 30.5]),
    _timed("ISO stamps with zone", "2024-05-01T14:05:00Z|2024-05-01T14:05:30Z|2024-05-01T14:06:00Z", [0, 30, 60]),
    _timed("zones that differ", "2024-05-01T14:05:00+02:00|2024-05-01T12:05:30+00:00", [0, 30]),
    _timed("stamps day first", "31.05.2024 23:59:30|01.06.2024 00:00:00", [0, 30]),
    _timed("stamps month first", "5/31/2024 11:59:30 PM|6/1/2024 12:00:00 AM", [0, 30]),
    _timed("stamps with month names", "01-May-2024 14:05:00|01-May-2024 14:05:30", [0, 30]),
    _timed("stamps without seconds", "2024-05-01 14:05|2024-05-01 14:06", [0, 60]),
    _timed("stamps, slashes year first", "2024/05/01 14:05:00|2024/05/01 14:05:30", [0, 30]),
    _timed("epoch seconds", "1714572300|1714572330|1714572360", [0, 30, 60], "timestamp"),
    _timed("epoch milliseconds", "1714572300000|1714572330000|1714572360500", [0, 30, 60.5], "timestamp"),
    _timed("epoch under time_s", "1714572300.5|1714572330.5", [0, 30], "time_s"),
    _timed("fractions of a day", "0|0.000347222222|0.000694444444", [0, 30, 60]),
    Good(
        "date and time apart",
        "Date,Time,kPa\n2024-05-01,23:59:30,30\n2024-05-02,00:00:00,29.5\n2024-05-02,00:00:30,28\n",
        T,
        P,
        1,
    ),
    Good("date once", "Datum;Uhrzeit;kPa\n01.05.2024;14:05:00;30\n;14:05:30;29,5\n;14:06:00;28\n", T, P, 1),
    Good(
        "date and time between blanks",
        "Time kPa\n2024-05-01 14:05:00 30\n2024-05-01 14:05:30 29.5\n2024-05-01 14:06:00 28\n",
        T,
        P,
        1,
    ),
    Good("am between blanks", "Time kPa\n11:59:30 AM 30\n12:00:00 PM 29.5\n12:00:30 PM 28\n", T, P, 1),
    Good("minutes and seconds apart", "min,sec,kPa\n0,0,30\n0,30,29.5\n1,0,28\n", T, P, 1),
    Good("minutes, seconds apart", "min,sec,kPa\n0,0,30\n1,15,29.5\n2,30,28\n", [0, 75, 150], P, 1),
    Good("minutes and the same in seconds", "min,sec,kPa\n0,0,30\n0.5,30,29.5\n1,60,28\n", T, P, 1),
    Good("clock, first reading missed", "Clock,kPa\n14:04:30,-\n14:05:00,30\n14:05:30,29.5\n14:06:00,28\n", T, P, 1),
    Good("elapsed beside clock", "Clock,Elapsed (s),kPa\n14:05:00,0,30\n14:05:30,30,29.5\n14:06:00,60,28\n", T, P, 1),
    Good("elapsed in minutes beside clock", "Time,min,kPa\n14:05:00,0,30\n14:05:30,0.5,29.5\n14:06:00,1,28\n", T, P, 1),
]

GOOD = [*LAYOUT, *ENCODED, *UNITS, *NUMBERS, *TIMES]
