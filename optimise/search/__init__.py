"""Search over a price list: the exact front, and brute force where a list is small."""
