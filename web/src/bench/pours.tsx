/** All pours of all cases. */
export default function Pours() {
  return <h1 tabIndex={-1}>pours</h1>;
}
