"""The offices' rules: pure functions over dates, with no database, network or clock."""
