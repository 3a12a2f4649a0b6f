/** That lots a batch needs are on hold, and what to do, where the state of a batch stands. */
export function OnHold({ lots }: { lots: readonly string[] }): JSX.Element {
  return (
    <>
      <span class="mark bad" safe>
        {onHoldWords(lots)}
      </span>
      <div class="hint">
        <span>Decide about </span>
        <LotLinks lots={lots} />
      </div>
    </>
  );
}

export const onHoldWords = (lots: readonly string[]): string =>
  lots.length === 1 ? 'a lot of it is on hold' : `${lots.length} lots of it are on hold`;

export function LotLinks({ lots }: { lots: readonly string[] }): JSX.Element {
  return (
    <>
      {lots.map((lot, at) => (
        <>
          {at > 0 && <span>, </span>}
          <a href={`/shelf/lots/${encodeURIComponent(lot)}`} safe>
            {`lot ${lot}`}
          </a>
        </>
      ))}
    </>
  );
}
