/** How the mail's text names a picture that it carries (RFC 2392). */
export function cidOf(pictureId: string): string {
  return `${pictureId}@nightjar.invalid`;
}
