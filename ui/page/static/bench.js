// The Bench screen.
import { el } from "/own/dom.js";
export async function mount(host) {
  host.append(el("h1", {}, "Bench"));
}
