"""The store in PostgreSQL: one database, many shops, many servers. docs/running-at-scale.md.

Nothing outside this folder imports psycopg; `lowside.store.choosing` imports this folder when an
address of a database is given.
"""
