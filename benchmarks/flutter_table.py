"""The weighting of flutter, for benchmarks that judge the reader by a table of their own."""

WEIGHTING_HZ = [
    0.1,
    0.2,
    0.315,
    0.4,
    0.63,
    0.8,
    1.0,
    1.6,
    2.0,
    4.0,
    6.3,
    10.0,
    20.0,
    40.0,
    63.0,
    100.0,
    200.0,
]
WEIGHTING_DB = [
    -48.0, -30.6, -19.7, -15.0, -8.4, -6.0, -4.2, -1.8, -0.9, 0.0, -0.9, -2.1, -5.9, -10.4, -14.2, -17.3, -23.0,
]  # fmt: skip
"""IEC 60386 and AES6-2008, from memory."""
