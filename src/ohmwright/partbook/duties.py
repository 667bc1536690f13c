"""What a pin's printed name stands for, in one word per duty, over the habits of many makers.

Pin names are common practice (no source); a name that says nothing gives an empty word.
"""

from __future__ import annotations

import re
from functools import lru_cache

WORDS: tuple[tuple[str, str], ...] = (
    ("GND", r"[PADSC]?GND[A-Z]?\d*|GND[-_].*|GNDA|VSS[A-Z]?\d*|EP|EPAD|E?PAD|THERMAL.*|TAB|GROUND|[AP]?VSS"),
    ("BOOT", r"V?BOO?ST|BOOT\d?|C?BST\d?|CB|CBOOT\d?|VBST\d?|BTST\d?|HB|VBOOT|BS|VB"),
    ("SW", r"V?SWN?\d?|LX\d?|PH|PHASE\d?|SWITCH|HS|SW[-_][A-Z\d]+|L[12]"),
    ("FB", r"V?FB[XPN+-]?\d?|V?ADJ|ADJUST|FEEDBACK|NFB|VSENSE|FB[-_].*"),
    ("HO", r"HO|UGATE\d?|DRVH\d?|HDRV\d?|HGATE|TG|GH|UG|HIDRV|DH"),
    ("LO", r"LO|LGATE\d?|DRVL\d?|LDRV\d?|BG|GL|LG|LODRV|DL"),
    ("HI", r"HI|INH|HIN|PWM|IN_?HI"),
    ("LI", r"LI|INL|LIN"),
    ("EN", r"EN\d?|ENA|ENABLE|ON|SHDN|SD|S/S|ON/OFF|CE|CEN|CHIP_?EN|UVLO|RUN\d?|STBY|EN[-_/].*|ON_?OFF|OE"),
    ("SS", r"SS\d?|SS[-_/]?TR.*|TRACK|CSS|TR"),
    ("CT", r"CT\d?|CD|CDELAY|DELAY|DLY|CRT|SLEW|TIMER|CTMR"),
    ("COMP", r"COMP\d?|VC|ITH\d?|EAO"),
    ("PG", r"PG\d?|PGOOD\d?|POK|POWER_?GOOD|PWRGD|PWR_?OK|RDY"),
    ("RT", r"RT|FREQ|FSW|ROSC|RT[-_/].*|FS|RFREQ"),
    ("ILIM", r"I?LIM|ILIMIT|OCSET|RLIM|TRIP\d?|CS_?ADJ|OCP|R?OCSET|ILIM\d?|CLASS|DET"),
    ("PROG", r"PROG|ISET\d?|ICHG|IPRE|ITERM|IREF|RPROG|PRETERM|ISETA|R?SET|RBIAS|REXT|REX|EXTRES|RREF|R_?BIAS"),
    ("STAT", r"STAT\d?|CHRG|CHG|STDBY|DONE|LED\d?\w?|CHGLED|LED[-_/].*|ACOK|CHARGE"),
    ("SYS", r"V?SYS[A-Z]?\d?"),
    ("BAT", r"V?BATT?\d?[AP]?|VBAT[-_]?\w*|BAT\+"),
    ("PMID", r"PMID"),
    ("VBUS", r"V?BUS\d?|VBUS[-_]?\w*|USB_?VBUS"),
    ("TS", r"TS\d?|NTC|TEMP|THERM?|TH|BATTEMP"),
    ("ACP", r"ACP|CSIP|CSP_?IN|VINCSP|IS_?P"),
    ("ACN", r"ACN|CSIN|CSN_?IN|VINCSN|IS_?N"),
    ("SRP", r"SRP|CSOP|CSP\d?|ISEN\+?|SENSE\+|SNS[P+]|CS\+|RS\+"),
    ("SRN", r"SRN|CSON|CSN\d?|ISEN-|SENSE-|SNS[N-]|CS-|RS-"),
    ("ACDRV", r"ACDRV\d?|ASGATE|ACG|CMSRC"),
    ("BATDRV", r"BATDRV|BATFET|BGATE|BATG"),
    ("CC1", r"CC1\w?|CC_?1"),
    ("CC2", r"CC2\w?|CC_?2"),
    ("VCONN", r"VCONN\w?"),
    ("GATE", r"GATE\w?|G\d?|GATE[-_].*|DRV|SNK_?CTRL|VBUS_?EN\w*"),
    ("RESET", r"N?RE?SE?T[-_]?[A-Z]?\d?|RST[-_]?N?|NRST\w?|MCLR.*|N_?RST|RESET.*|POR|CLR"),
    ("MR", r"MR|MRST"),
    ("SENSE", r"SENSE\d?|V?SNS|MON|VMON|V?SEN\d?|IN_?SENSE"),
    ("FAULT", r"FLT|FAULT\d?|FLG|OCB?\d?|INT[-_]?[NB]?|ALERT|OVC|ERR|IRQ|NINT"),
    ("QOD", r"QOD|DIS|DISCH\w*"),
    ("BYP", r"BYP|BYPASS|NR|NR/SS|CBYP|SET|BP|CNOISE"),
    ("XIN", r"XIN|XTAL_?IN|XTAL_?1|X1|XI|OSC_?1|OSC_?IN|XTALI|EXTAL|OSCI|CLKIN/XTAL1"
     r"|XTAL1.*|XIN.*|X32K_?IN|OSC1.*|RTC_?XI"),
    ("XOUT", r"XOUT|XTAL_?OUT|XTAL_?2|X2|XO|OSC_?2|OSC_?OUT|XTALO|XTAL|OSCO|XTAL2.*|XOUT.*|X32K_?OUT|OSC2.*|RTC_?XO"),
    ("DP", r"D\+|DP\d?|USB_?DP?\+?|USBDP\w?|(?:USB|UP|DN|U|D|H)?_?\d?_?D(?:P|\+)|DPU?_?\d?"),
    ("DM", r"D-|DM\d?|USB_?DM?-?|USBDM\w?|(?:USB|UP|DN|U|D|H)?_?\d?_?D[M-]"),
    ("I2C", r"SDA\w*|SCL\w*|SMB\w+|I2C_?\w+"),
    ("VREF", r"V?REF\w*|VCAP\w*|V?CORE\w*|VDD_?CORE|3V3OUT|VDD_?CR|V18\w*|VR\d?|V33?O?|VREG_?OUT"),
    ("OUT", r"P?V?OUT[A-Z]?\d?|VO\d?|VOUT[-_].*|OUTPUT"),
    ("VIN", r"[AP]?VIN[A-Z]?\d?|[PAD]?V?IN\d?|VI|INPUT|VSUP\w?|VIN[-_/].*|DCIN|ACIN|PVIN\d?|VPWR"),
    ("VCC", r"[AP]?VCC\w*|[ADP]?VDD\w*|VREG\d?|INTVCC|BIAS|VL|VDRV|REGN|DRVCC|V5V?|LDO\d?|V\+|VDRIVE|VIO|VCCQ|3V3|VP"),
    ("VEE", r"VEE|V-|VNEG"),
)  # fmt: skip
"""Duty and the names that stand for it, the first that fits wins. Common practice, no source."""
_RULES = tuple((word, re.compile(pattern)) for word, pattern in WORDS)
_FLYING = re.compile(r"(?:C|CAP|CFLY|C_?FLY)_?(\d?)_?([+PNM-])")
NUMBERED = frozenset({"SW", "BOOT", "FB", "EN", "OUT", "VIN", "PG", "SS", "COMP"})
"""Duties whose number is kept, for chips of several channels and of two switch nodes."""


@lru_cache(maxsize=4096)
def duty_of(name: str) -> str:
    """The duty a pin's name stands for: ``SW``, ``BOOT``, ``FB1``, ``CF1+``; empty where it says nothing.

    Examples
    --------
    >>> duty_of("PHASE"), duty_of("~{SHDN}"), duty_of("EN/UVLO"), duty_of("FB2"), duty_of("C1+"), duty_of("PA7")
    ('SW', 'EN', 'EN', 'FB2', 'CF1+', '')
    """
    bare = re.sub(r"~\{?|\}", "", name.upper().strip())[:60].strip(" /#*!")
    flying = _FLYING.fullmatch(bare)
    if flying:
        return f"CF{flying[1]}{'+' if flying[2] in '+P' else '-'}"
    for word in (bare, *re.split(r"[/,|(\s]+", bare)):
        found = _one(word.strip("_)"))
        if found:
            return found
    return ""


def _one(word: str) -> str:
    if not word:
        return ""
    for duty, rule in _RULES:
        if rule.fullmatch(word):
            number = re.search(r"(\d)$", word)
            return f"{duty}{number[1]}" if duty in NUMBERED and number else duty
    return ""


def without_number(duty: str) -> str:
    """The duty of one channel: ``FB2`` is ``FB``; ``CC1`` and ``CF1+`` stay as they are."""
    bare = duty.rstrip("0123456789")
    return bare if bare in NUMBERED else duty
