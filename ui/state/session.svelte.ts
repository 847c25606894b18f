import type { ClientMessage, FlakeView, RunView, ServerMessage } from '../../daemon/server/messages.ts';
import { BarSearch } from './bars.svelte.ts';
import { connect } from './connection.ts';
import { controlsAction, heldByOther, standingOf } from './controls.ts';
import type { Standing } from './controls.ts';
import type { Link } from './connection.ts';
import { listed, neighbour } from './flakeList.ts';
import type { LayerFilter } from './flakeList.ts';
import { JudgeState } from './judge.svelte.ts';
import { EMPTY_NIGHT, follow } from './night.ts';
import type { NightView } from './night.ts';
import { keepControlsKey, keepName, readControlsKey, readName } from './preferences.ts';
import { answered, asked, forgotten, isWaiting, NO_REQUESTS, PLACE_OF } from './requests.ts';
import type { Requests } from './requests.ts';
import { openSocket } from './socket.ts';

const TICK_MS = 500;
/** States in which the stage belongs to the scan. */
const STAGE_BUSY: readonly string[] = ['preflight', 'scanning', 'waiting', 'recovering'];

type WithoutRequest<M> = M extends unknown ? Omit<M, 'request'> : never;
type Asked = WithoutRequest<ClientMessage>;

/** All that the page knows and what it may do: one for the page's whole life. Parts read it; only its methods change it. */
export class Session {
  night: NightView = $state.raw(EMPTY_NIGHT);
  link: Link = $state.raw({ state: 'connecting' });
  requests: Requests = $state.raw(NO_REQUESTS);
  filter: LayerFilter = $state('all');
  chosenId: string | null = $state(null);
  /** Kept while the flake is chosen, so that its panel does not empty when a better reading removes it. */
  lastChosen: FlakeView | null = $state.raw(null);
  readonly judge = new JudgeState();
  readonly bars = new BarSearch();
  /** A number that was given and is not yet in the records. */
  giving: { readonly flakeId: string; readonly terrace: number; readonly layers: number } | null = $state.raw(null);
  outline = $state(true);
  drawnOut = $state(true);
  /** Flakes that were looked at again are shown as they were then. */
  closeUp = $state(false);
  following = $state(false);
  /** Set while the live picture of the chosen flake is shown. */
  showLive = $state(false);
  /** When the last live picture was taken, on the browser's clock. */
  liveTakenMs = $state(0);
  /** What the others are shown when the controls are taken here. */
  name = $state(readName());
  /** The browser's clock (since the page was opened, never set back), every half second, for ages. */
  nowMs = $state(performance.now());

  // Parts that seldom change stand by themselves: what reads them is not redone at each message.
  run: RunView | null = $derived(this.night.run);
  preflight: NightView['preflight'] = $derived(this.night.run ? null : this.night.preflight);
  flakes: NightView['flakes'] = $derived(this.night.flakes);
  list: readonly FlakeView[] = $derived(listed(this.flakes, this.filter));
  chosen: FlakeView | null = $derived(this.chosenId === null ? null : (this.flakes.get(this.chosenId) ?? null));
  isLost: boolean = $derived(this.link.state === 'lost');
  isStageBusy: boolean = $derived(STAGE_BUSY.includes(this.night.progress?.state ?? ''));

  standing: Standing = $derived(standingOf(this.night.controls));
  /** Who else has the controls: then nothing here may move anything. */
  heldBy: string | null = $derived(heldByOther(this.standing));

  /** True when the checks have found the night ready, and not too long ago. */
  isReadyToStart: boolean = $derived(this.preflight?.readiness === 'ready' || this.preflight?.readiness === 'toBeLookedAt');
  /** True when the checks are at their end and this page may say what comes next. */
  mayAskPreflight: boolean = $derived(this.preflight?.readiness !== undefined && !this.isLost && this.heldBy === null && !isWaiting(this.requests, 'preflight'));

  private latest: NightView = EMPTY_NIGHT;
  private isDrawing = false;
  private count = 0;
  /** The request for a flake to judge that waits for its answer. */
  private offerAsked: string | null = null;
  /** The flake that this page last asked to be taken to. */
  private goingTo: string | null = null;
  private readonly connection = connect({
    open: () => openSocket(),
    timers: { now: () => performance.now(), after: (ms, call) => cancellable(ms, call) },
    onMessage: (message) => this.take(message),
    onLink: (link) => this.linkChanged(link),
  });

  constructor() {
    setInterval(() => (this.nowMs = performance.now()), TICK_MS);
  }

  choose(id: string | null): void {
    if (id === this.chosenId) return;
    this.judge.isOffered = false;
    this.show(id);
  }

  private show(id: string | null): void {
    if (this.showLive) this.leaveLive();
    this.following = false;
    this.chosenId = id;
    this.judge.terrace = this.terraceThatCounts(id);
    this.lastChosen = id === null ? null : (this.night.flakes.get(id) ?? null);
  }

  step(step: 1 | -1): void {
    const next = neighbour(this.list, this.chosenId, step);
    if (next !== null) this.choose(next);
  }

  /** Gives the chosen terrace a layer number. */
  give(layers: number): void {
    const flake = this.chosen?.flake;
    const initials = this.judge.initials || this.run?.operator.slice(0, 8);
    // Until the flake that was asked for is shown, a digit would go to the one before it.
    if (!flake || !flake.terraces[this.judge.terrace] || !initials || this.offerAsked !== null) return;
    this.giving = { flakeId: flake.id, terrace: this.judge.terrace, layers };
    this.ask({ type: 'giveVerdict', flakeId: flake.id, terrace: this.judge.terrace, layers, source: this.judge.sourceFor(flake), initials });
  }

  /** Asks for the next flake to judge. Hidden before it comes: nobody is to see a prediction first. */
  judgeNext(): void {
    const initials = this.judge.initials || this.run?.operator.slice(0, 8);
    if (!initials || this.isLost) return;
    this.judge.beginOffered();
    if (this.filter !== 'rejected') this.filter = 'all';
    this.offerAsked = this.ask({ type: 'nextToJudge', initials }) ?? null;
  }

  /** Takes the number of the chosen terrace back. */
  takeBack(): void {
    const verdict = this.chosen?.verdicts?.find(({ terrace }) => terrace === this.judge.terrace);
    if (this.chosen && verdict) this.ask({ type: 'withdrawVerdict', flakeId: this.chosen.flake.id, terrace: verdict.terrace });
  }

  stepTerrace(step: 1 | -1): void {
    const count = this.chosen?.flake.terraces.length ?? 0;
    if (count > 0) this.judge.terrace = (this.judge.terrace + step + count) % count;
  }

  /** Hides or shows predictions; hidden, the list may not sort them out by number either. */
  switchVeil(): void {
    this.judge.switchVeil();
    if (this.judge.veiled && this.filter !== 'rejected') this.filter = 'all';
  }

  /** Shows one layer number only; the same again shows all. */
  only(filter: LayerFilter): void {
    if (this.judge.veiled && filter !== 'rejected') return;
    this.filter = this.filter === filter ? 'all' : filter;
  }

  pauseOrGoOn(): void {
    const state = this.night.progress?.state;
    if (state === 'paused' || state === 'parked') this.askWithControls({ type: 'goOn' });
    else if (this.isStageBusy) this.askWithControls({ type: 'pause' });
  }

  startNight(): void {
    if (this.mayAskPreflight && this.isReadyToStart) this.askWithControls({ type: 'startNight' });
  }

  checkAgain(): void {
    if (this.mayAskPreflight) this.askWithControls({ type: 'checkAgain' });
  }

  stop(): void {
    this.ask({ type: 'stop' });
  }

  goThere(): void {
    if (this.chosenId === null || this.isStageBusy || !this.night.progress || this.heldBy !== null) return;
    this.goingTo = this.chosenId;
    this.askWithControls({ type: 'goToFlake', flakeId: this.chosenId });
  }

  leaveLive(): void {
    this.showLive = false;
    this.goingTo = null;
    if (this.heldBy === null) this.ask({ type: 'endLive' });
  }

  /** Does what the first button of the line about the controls says. */
  doControls(): void {
    const action = controlsAction(this.standing);
    if (action === 'takeControls') this.takeControls();
    else if (action !== undefined) this.ask({ type: action });
  }

  giveUpControls(): void {
    this.ask({ type: 'giveUpControls' });
  }

  setName(name: string): void {
    this.name = name.trim();
    keepName(this.name);
  }

  tryNow(): void {
    this.connection.tryNow();
  }

  private terraceThatCounts(id: string | null): number {
    const flake = id === null ? undefined : this.night.flakes.get(id)?.flake;
    return Math.max(0, flake?.terraces.findIndex((terrace) => terrace.call.layers === flake.layers && terrace.inscribedUm === flake.usableUm) ?? 0);
  }

  private takeControls(): void {
    this.ask(this.name === '' ? { type: 'takeControls' } : { type: 'takeControls', name: this.name });
  }

  /** Asks for what needs the controls, and takes them first where nobody has them; where somebody else does, nothing is asked. */
  private askWithControls(what: Asked): void {
    if (this.heldBy !== null) return;
    if (this.standing.is === 'free') this.takeControls();
    this.ask(what);
  }

  /** The request's name, where it could be sent. */
  private ask(what: Asked): string | undefined {
    this.count += 1;
    const request = `r${this.count}`;
    const message: ClientMessage = { ...what, request };
    if (!this.connection.send(message)) return undefined;
    const place = PLACE_OF[what.type];
    if (place) this.requests = asked(this.requests, request, place);
    return request;
  }

  private take(message: ServerMessage): void {
    const hadGap = this.latest.gap;
    this.latest = follow(this.latest, message);
    this.requests = answered(this.requests, message);
    if (!isWaiting(this.requests, 'judge')) this.giving = null;
    if (this.latest.gap && !hadGap) this.ask({ type: 'snapshot' });
    if (message.type === 'live') this.tookLive(message);
    if ((message.type === 'answer' || message.type === 'refused') && message.request === this.offerAsked) {
      this.offerAsked = null;
      if (message.type === 'answer') this.tookOffer(message.flakeId);
    }
    if (message.type === 'controls' && message.controls.key !== undefined) keepControlsKey(message.controls.key);
    this.draw();
  }

  /** A flake to judge, or none that is left. */
  private tookOffer(flakeId: string | undefined): void {
    if (flakeId === undefined) {
      this.judge.isOffered = false;
      this.judge.isAllJudged = true;
      return;
    }
    if (flakeId !== this.chosenId) this.show(flakeId);
    this.judge.offers += 1;
  }

  /** A live picture is shown where it was asked for; when another flake has been chosen meanwhile, it is no longer wanted. */
  private tookLive(live: Extract<ServerMessage, { type: 'live' }>): void {
    if (live.flakeId === undefined || live.flakeId !== this.goingTo) return;
    const agedMs = Math.max(0, (this.latest.progress?.clockMs ?? live.atMs) - live.atMs);
    this.liveTakenMs = performance.now() - agedMs;
    if (live.flakeId === this.chosenId) this.showLive = true;
    else this.leaveLive();
  }

  /** However many messages come, the page is drawn once a frame; a hidden page is not drawn at all. */
  private draw(): void {
    if (this.isDrawing) return;
    this.isDrawing = true;
    requestAnimationFrame(() => {
      this.isDrawing = false;
      this.night = this.latest;
      if (this.night.run) this.judge.beginRun(this.night.run.runId);
      const chosen = this.chosenId === null ? undefined : this.night.flakes.get(this.chosenId);
      if (chosen) this.lastChosen = chosen;
      if (this.isStageBusy) this.showLive = false;
    });
  }

  private linkChanged(link: Link): void {
    this.link = link;
    this.nowMs = performance.now();
    const key = readControlsKey();
    if (link.state === 'open' && key !== null) this.ask({ type: 'takeControls', key });
    if (link.state !== 'lost') return;
    this.latest = { ...this.latest, seq: 0 };
    this.requests = forgotten(this.requests);
    this.giving = null;
    this.offerAsked = null;
  }
}

function cancellable(ms: number, call: () => void): () => void {
  const timer = setTimeout(call, ms);
  return () => clearTimeout(timer);
}
