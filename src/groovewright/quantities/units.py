"""Conversions between the trade's units. Exact by definition unless a line says otherwise."""

STANDARD_GRAVITY_M_PER_S2 = 9.80665
"""3rd CGPM, 1901."""

MN_PER_GF = STANDARD_GRAVITY_M_PER_S2
"""Millinewton for one gram-force: tracking force is set in grams and computed in mN."""

MM_PER_INCH = 25.4

RPM_33 = 100.0 / 3.0
RPM_45 = 45.0
RPM_78 = 78.26
"""78.26 rpm: 46 poles, 60 Hz mains; the speed of coarse-groove records (common practice)."""

SPEEDS_RPM = {"33": RPM_33, "45": RPM_45, "78": RPM_78}
