import { Observable, type OperatorFunction } from 'rxjs';

/** Lets values out in the order of their place (0, 1, 2, ...), holding early ones back until their turn. */
export function inOrder<T>(placeOf: (value: T) => number): OperatorFunction<T, T> {
  return (source) =>
    new Observable<T>((subscriber) => {
      const early = new Map<number, T>();
      let next = 0;
      return source.subscribe({
        next: (value) => {
          early.set(placeOf(value), value);
          for (let ready = early.get(next); ready !== undefined; ready = early.get(next)) {
            early.delete(next);
            next++;
            subscriber.next(ready);
          }
        },
        error: (error) => subscriber.error(error),
        complete: () => subscriber.complete(),
      });
    });
}
