"""What holds for every request and answer, whatever it asks for."""
