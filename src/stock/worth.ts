/** What so much of an item is worth, in 1/10 000. */
export interface Worth {
  valueE4: number;
  onHand: number;
}

/** The value of `amount` where so much is worth so much, rounded half up; null where nothing tells. */
export function valueOf(amount: number, worth: Worth | undefined): number | null {
  if (!worth || worth.onHand === 0) return null;
  const [value, quantity, onHand] = [BigInt(worth.valueE4), BigInt(amount), BigInt(worth.onHand)];
  return Number((2n * value * quantity + onHand) / (2n * onHand));
}
