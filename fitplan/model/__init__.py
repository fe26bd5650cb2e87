"""What a user may say and what planning finds out, as typed immutable values."""
