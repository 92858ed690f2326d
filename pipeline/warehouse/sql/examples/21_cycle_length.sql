-- What share of loads was dry by which minute, and how many loads stand behind it?
SELECT cycle_programme, exposed, load_kind, minutes, n, round(share_dry, 2) AS share_dry,
    round(low, 2) AS low, round(high, 2) AS high
FROM cycle_length
WHERE aspect = 'dry' AND share_dry IS NOT NULL
ORDER BY cycle_programme, exposed, load_kind, minutes
