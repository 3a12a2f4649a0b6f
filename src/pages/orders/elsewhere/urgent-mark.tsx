/** Said of what goes before all that is not. */
export function UrgentMark(): JSX.Element {
  return <span class="mark care">urgent</span>;
}
