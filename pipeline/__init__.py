"""What becomes of the answers: records, references, dates, ranking, and the doors to them."""
