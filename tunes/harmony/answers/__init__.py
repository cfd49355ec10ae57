"""What a person may write for the function of a chord, and how near it is to the key."""
