/** An answer to the letter, but for the number of its request, which is drawn anew for each. */
export function saidBy({ body }: { body: string }): string {
  return body.replace(/"requestId":"[0-9a-f]{12}"/, '')
}
