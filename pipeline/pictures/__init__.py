"""The whole field as pictures, each with tables and sentences that say the same."""
