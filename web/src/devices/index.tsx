/** Paired tablets. `unpaired`: this device itself has yet to be paired. */
export default function Devices({ unpaired = false }: { unpaired?: boolean }) {
  return <h1 tabIndex={-1}>{unpaired ? 'pair' : 'devices'}</h1>;
}
