// What is done on a day, by the people and in the hours that there are.

// The jobs of a day by number, with their hours or why they wait: what comes before is done, season, ground and crew
// fit, and there is time. sitepipe/works/jobs/ready.py says the same, and a test holds both to one answer.
function jobsOfDay(day, month, people, hours, done) {
  const over = new Set(done);
  const told = new Map();
  let left = people * hours;
  for (const job of day.jobs.filter((one) => !over.has(one.number))) {
    const reasons = [
      ['for a plan that keeps its water', job.is_held],
      ['for other jobs', !job.after.every((number) => over.has(number))],
      ['for its months', job.months.length > 0 && !job.months.includes(month)],
      ['for dry ground', job.is_soft && day.wet.includes(month)],
      ['for two people', people < job.least_people],
      ['for another day', left <= 0],
    ];
    const reason = reasons.find(([, holds]) => holds);
    if (reason) {
      told.set(job.number, { waits: day.waits[reason[0]] });
      continue;
    }
    const share = Math.min(left, job.hours);
    const isFinished = share >= job.hours - 1e-9;
    left -= share;
    told.set(job.number, { hours: share, isFinished });
    if (isFinished && !job.asks) over.add(job.number);
  }
  return told;
}

// Hours of work as the console says them: minutes by fives, half hours up to ten, then whole hours.
function sayWork(hours) {
  if (hours < 0.75) return Math.max(5, 5 * Math.round(hours * 12)) + '\u00a0minutes';
  const halves = hours < 10 ? Math.round(hours * 2) / 2 : Math.round(hours);
  return (Math.floor(halves) || '') + (halves % 1 ? '½' : '') + '\u00a0hour' + (halves > 1 ? 's' : '');
}

function joined(pieces) {
  return pieces.length < 2 ? pieces.join('') : pieces.slice(0, -1).join(', ') + ' and ' + pieces[pieces.length - 1];
}

// The day, the crew and the hours: asked for above the answer, kept on this device but for the day.
function askCrew(body, day, onChange) {
  const row = put(body, 'div', 'crew');
  const ask = (label, type, value, limits) => {
    const holder = put(row, 'label');
    const input = put(holder, 'input');
    put(holder, 'span', type === 'date' ? 'hidden' : '', label);
    Object.assign(input, { type, value }, limits);
    input.addEventListener('change', () => {
      if (type === 'number') kept('crew-' + label, input.value);
      onChange();
    });
    return input;
  };
  const now = new Date();
  const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((part) => String(part).padStart(2, '0')).join('-');
  const on = ask('day', 'date', today, { required: true });
  const people = ask('people', 'number', kept('crew-people') || day.people, { min: 1, max: 100, step: 1 });
  const hours = ask('hours', 'number', kept('crew-hours') || day.hours, { min: 0.5, max: 24, step: 0.5 });
  return () => {
    const number = (input, otherwise) => (input.checkValidity() && input.value ? Number(input.value) : otherwise);
    return { month: Number((on.value || today).slice(5, 7)), people: number(people, day.people), hours: number(hours, day.hours) };
  };
}

// The answer of a day and its two lists: what is ready, in order, and what waits for what.
function tellDay(question, { month, people, hours }) {
  const { day, places } = question;
  const isDone = (place) => kept('job-' + place.job) === 'done';
  const numbers = new Map(places.map((place) => [place, Number(place.ring)]));
  const told = jobsOfDay(day, month, people, hours, places.filter(isDone).map((place) => numbers.get(place)));
  const jobs = new Map(day.jobs.map((job) => [job.number, job]));
  const ready = places.filter((place) => (told.get(numbers.get(place)) || {}).hours !== undefined);
  const shared = ready.map((place) => {
    const { hours: share, isFinished } = told.get(numbers.get(place));
    return Object.assign({}, place, { rest: place.rest + (isFinished ? '' : ' ' + sayWork(share) + ' of it today.') });
  });
  const waiting = places.filter((place) => (told.get(numbers.get(place)) || {}).waits)
    .map((place) => Object.assign({}, place, { rest: 'Waits ' + told.get(numbers.get(place)).waits + '.' }));
  const work = ready.reduce((sum, place) => sum + told.get(numbers.get(place)).hours, 0);
  const rings = ready.map((place) => place.ring);
  const tools = [...new Set(ready.flatMap((place) => jobs.get(numbers.get(place)).tools))];
  const answer = rings.length ? 'Job' + (rings.length > 1 ? 's ' : ' ') + joined(rings) + ', ' + sayWork(work) + ' of work.' : 'Nothing is ready on this day.';
  const digs = ready.some((place) => jobs.get(numbers.get(place)).digs);
  return {
    answer: answer + ' ' + question.answer,
    rings: ready,
    parts: [
      ...(tools.length ? [{ head: 'Bring.', text: tools[0].charAt(0).toUpperCase() + joined(tools).slice(1) + '.' }] : []),
      { head: 'Before the first spade.', text: [digs ? day.marks : '', day.wet_said[month] || '', day.stop].filter(Boolean).join(' ') },
    ],
    lists: [['', shared], ['Waits', waiting], ['Done', places.filter(isDone)]],
  };
}
