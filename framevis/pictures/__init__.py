"""From a study to pictures: bodies, their displacement by cause, and the outlets that draw them."""
