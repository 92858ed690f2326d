if(has_three, coalesce(b.gain_of_three, p.gain_of_three), coalesce(b.gain_of_two, p.gain_of_two))
    AS gain_needed,
if(has_three, coalesce(b.ospl90_of_three, p.ospl90_of_three), coalesce(b.ospl90_of_two, p.ospl90_of_two))
    AS ospl90_needed,
if(has_three, coalesce(b.thd_of_three, p.thd_of_three), coalesce(b.thd_of_two, p.thd_of_two))
    AS thd_needed
