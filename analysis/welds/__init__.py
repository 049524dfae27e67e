"""What each place of the face shows: bonded, bare, void, or not to be told."""
