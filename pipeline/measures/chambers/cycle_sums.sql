sum(n)::BIGINT AS n, sum(y)::BIGINT AS k, count(*) AS m, sum(n * n)::BIGINT AS nn,
    sum(y * y)::BIGINT AS yy, sum(n * y)::BIGINT AS yn, sum((y * y / n)::DECIMAL(18, 9)) AS yyn
