"""What a phone gets and sends back."""
