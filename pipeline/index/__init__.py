"""The cross-episode index: shop.db, made from the records and nothing else, so it can be made again at any time."""
