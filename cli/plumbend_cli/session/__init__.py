"""The guided session: questions, readings typed one after another, and what they come to so far."""
