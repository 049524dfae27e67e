"""Materials: what a designation says, what is known of each polymer with its source, and what fits a place of use."""
