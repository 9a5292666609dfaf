"""What must not stop unnoticed: signs of life, alarms, limits, and the page that shows them."""
