"""What can be told while the take goes on."""
