// Loads the board again every minute, so that a newly issued bulletin appears without a hand.
setTimeout(() => location.reload(), 60000);
