CASE
        WHEN headline >= greatest(1, other_order) THEN 'headline'
        WHEN other_order > 0 THEN 'other_order'
        ELSE 'left_out'
    END AS stratum
