"""The forms of the exercises: one stem a kind (order.py, order.js, order.css), and what they share."""
