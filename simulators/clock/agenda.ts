/** Something that happens at one moment of virtual time. */
export interface Appointment {
  readonly dueMs: number;
  /** Order of registration; settles ties. */
  readonly order: number;
  /** Undefined once it may be delivered; until then it resolves when the real operation behind it has ended. */
  readyWhen: Promise<void> | undefined;
  /** Hands the result to whoever waits. */
  deliver(): void;
  /** Ends the waiting with an error: the clock was closed. */
  refuse(reason: Error): void;
}

/** What is still to happen, sorted by moment, then by order of registration. */
export class Agenda {
  #appointments: Appointment[] = [];

  get first(): Appointment | undefined {
    return this.#appointments[0];
  }

  add(appointment: Appointment): void {
    let low = 0;
    let high = this.#appointments.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      const other = this.#appointments[middle] as Appointment;
      const isLater = other.dueMs > appointment.dueMs || (other.dueMs === appointment.dueMs && other.order > appointment.order);
      if (isLater) high = middle;
      else low = middle + 1;
    }
    this.#appointments.splice(low, 0, appointment);
  }

  /** True when it was still there. */
  remove(appointment: Appointment): boolean {
    const index = this.#appointments.indexOf(appointment);
    if (index < 0) return false;
    this.#appointments.splice(index, 1);
    return true;
  }

  /** Empties the agenda and returns what was in it. */
  clear(): readonly Appointment[] {
    const all = this.#appointments;
    this.#appointments = [];
    return all;
  }
}
