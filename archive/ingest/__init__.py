"""Files of a visit become photos: what they say about themselves, and how they get in without loss."""
