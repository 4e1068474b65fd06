"""What is shown and decided while a test runs. No terminal and no port in here."""
