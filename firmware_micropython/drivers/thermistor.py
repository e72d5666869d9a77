"""The board's own temperature: a 10 kohm thermistor to ground, 10 kohm to the reference, by a table.

Rows are (count, milli-degC) for beta 3950 K; straight lines between rows err by less than
0.7 K, which is plenty for one small line of the uncertainty budget. Integers, so that nothing
allocates.
"""

BETA_K = 3950
ROWS = (
    (3997, -40000),
    (3901, -30000),
    (3741, -20000),
    (3496, -10000),
    (3157, 0),
    (2739, 10000),
    (2278, 20000),
    (1825, 30000),
    (1419, 40000),
    (1082, 50000),
    (816, 60000),
    (613, 70000),
    (462, 80000),
    (350, 90000),
    (267, 100000),
)


def milli_c(count):
    """Temperature of a converter count, clipped to the table's ends. [milli-degC]"""
    above = ROWS[0]
    if count >= above[0]:
        return above[1]
    for row in ROWS:
        if count >= row[0]:
            # both differences are small: the product stays below 2**30
            return row[1] - (count - row[0]) * (row[1] - above[1]) // (above[0] - row[0])
        above = row
    return above[1]
