/** The other side of a link has gone: cable pulled, process ended, driver gave up. */
export class LinkLost extends Error {
  override readonly name = 'LinkLost'
}
