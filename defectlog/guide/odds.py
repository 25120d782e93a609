"""Arithmetic of belief: grouped reasons, the shop's own cases, and what a check would tell."""

from collections.abc import Iterable, Mapping, Sequence
from math import log2


def grouped(
    reasons: Sequence[tuple[str, float]], rest_counts: float, first_counts: float = 1.0
) -> tuple[float, ...]:
    """What each reason counts when reasons of one group are not independent.

    Parameters
    ----------
    reasons : (group, log-odds) for each reason
    rest_counts : share of its log-odds that a reason counts when it is not the strongest of its
        group and direction
    first_counts : share that the strongest counts

    Returns
    -------
    tuple of float
        Log-odds counted for each reason, in the order given. Their sum does not depend on the
        order; among equals the first counts as the strongest.

    Notes
    -----
    Two reasons that always come together are one witness heard twice, and adding their log-odds
    (naive Bayes) would make them overconfident. The strongest reason for and the strongest
    against count most, each further one less; a further reason can thus never turn the sum
    against its own direction. Both shares are judgement, held against simulated shops.
    """
    fullest: dict[tuple[str, bool], int] = {}
    for i, (group, value) in enumerate(reasons):
        best = fullest.setdefault((group, value > 0), i)
        if abs(value) > abs(reasons[best][1]):
            fullest[(group, value > 0)] = i
    full = set(fullest.values())
    return tuple(
        (first_counts if i in full else rest_counts) * v for i, (_, v) in enumerate(reasons)
    )


def posterior_shares(
    prior: Mapping[str, float],
    confirmed: Mapping[str, int],
    refuted: Mapping[str, int],
    strength: float,
) -> dict[str, float]:
    """Shares of the causes after the shop's own cases.

    Parameters
    ----------
    prior : share of each cause before any case; sums to 1
    confirmed : how many cases each cause was confirmed in
    refuted : how many cases each cause was ruled out in while no other was confirmed
    strength : how many cases the prior is worth

    Returns
    -------
    dict
        Posterior mean (a_i + n_i) / (sum a + sum n) of a Dirichlet prior with a_i = strength *
        prior_i and multinomial counts n_i.

    Notes
    -----
    Conjugate multinomial–Dirichlet model: Gelman, Carlin, Stern, Dunson, Vehtari and Rubin,
    Bayesian Data Analysis, 3rd ed. 2013, section 3.4. A case in which one cause was only ruled
    out counts as one case spread over the others in proportion to their prior shares; that is
    an approximation, as the exact posterior is then no Dirichlet.
    """
    cases = {key: float(confirmed.get(key, 0)) for key in prior}
    for gone, count in refuted.items():
        others = 1 - prior.get(gone, 0.0)
        if gone not in prior or others <= 0:
            continue
        for key, share in prior.items():
            if key != gone:
                cases[key] += count * share / others
    total = strength + sum(cases.values())
    return {key: (strength * share + cases[key]) / total for key, share in prior.items()}


def entropy_bits(shares: Iterable[float]) -> float:
    """Shannon entropy in bits, with 0 log 0 = 0.

    Source: Cover and Thomas, Elements of Information Theory, 2nd ed. 2006, eq. 2.1.
    """
    return -sum(share * log2(share) for share in shares if share > 0)


def information_gain_bits(shares: Sequence[float], positive: Sequence[float]) -> float:
    """How much a yes-or-no check is expected to tell about which cause is true, in bits.

    Parameters
    ----------
    shares : present share of each cause; sums to 1
    positive : chance of a positive result under each cause, in the same order

    Returns
    -------
    float
        Mutual information of cause and result: H(result) - H(result | cause), 0 to 1.

    Notes
    -----
    The same as the entropy of the shares now less their expected entropy after the result
    (Cover and Thomas, eq. 2.4), and computed this way round to lose no digits.
    """
    pairs = list(zip(shares, positive, strict=True))
    yes = sum(share * chance for share, chance in pairs)
    given_cause = sum(share * entropy_bits((chance, 1 - chance)) for share, chance in pairs)
    return max(0.0, entropy_bits((yes, 1 - yes)) - given_cause)
