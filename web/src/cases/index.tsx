export function Cases() {
  return <h1 tabIndex={-1}>cases</h1>;
}
