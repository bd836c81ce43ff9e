"""The drawn bench of the demo episode: paint, reel, hands, and the scenes that follow the narration."""
