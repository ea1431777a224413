"""Wilson's interval of a share, and the sign test's of a median."""

from exchange import load, save
from scipy import stats

wilson = [
    stats.binomtest(int(count), int(n)).proportion_ci(method="wilson")
    for count, n in load("shares").reshape(-1, 2)
]
save("wilson", [[found.low, found.high] for found in wilson])
values = load("values")
for n in load("lengths").astype(int):
    # Two open sides meet in the interval of both.
    some = values[:n]
    below = stats.quantile_test(some, q=0, p=0.5, alternative="two-sided").confidence_interval(0.95)
    save(f"median_{n}", [below.low, below.high])
