"""What is handed over: the paper, the guide for the owner at home, help at a distance; and their drawings."""
