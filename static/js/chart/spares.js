// How many spares so many balloons take, as decor/calc/materials.py has it: the studio's usual share, or, where it is
// known how many burst, as many as four jobs in five need (a negative binomial distribution).

const P80 = 0.8, P80_Z = 0.8416212335729143, EXACT_UP_TO = 4000;

export function sparesFor(needed, share, burst) {
  if (burst === undefined) return Math.ceil(needed * share - 1e-9);
  if (needed < 1 || burst === 0) return 0;
  const mean = (needed * burst) / (1 - burst), first = needed * Math.log1p(-burst);
  if (needed > EXACT_UP_TO || first < -700) return Math.ceil(mean + P80_Z * Math.sqrt(mean / (1 - burst)) - 0.5);
  let term = Math.exp(first), below = term, spares = 0;
  while (below < P80) {
    spares += 1;
    term *= (burst * (needed + spares - 1)) / spares;
    below += term;
  }
  return spares;
}
