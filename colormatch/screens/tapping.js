// Things to tap: chips, recipe cards, drawn pieces. Each is a plain button, so keyboard and screen reader need
// nothing more; the arrow keys step through them besides. What is tapped is sent by its key.

const make = (tag, attributes, parent, text = "") => {
  const node = document.createElement(tag)
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value)
  node.textContent = text
  parent.appendChild(node)
  return node
}

function fill(button, card) {
  button.replaceChildren()
  if (card.picture) make("img", { src: card.picture, alt: card.alt, draggable: "false" }, button)
  else if (card.colours.length) {
    const chips = make("span", { class: "chips", role: "img", "aria-label": card.alt }, button)
    for (const colour of card.colours) make("i", {}, chips).style.background = colour
  } else if (card.empty) make("span", { class: "empty" }, button, card.empty)
  const words = make("span", { class: "words" }, button)
  make("b", {}, words, card.title)
  for (const line of card.lines) make("span", { class: "line" }, words, line)
  if (card.note) make("span", { class: "note" }, button, card.note)
}

function step(list, event) {
  const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key]
  if (!by) return
  const buttons = [...list.querySelectorAll("button")]
  const next = buttons[buttons.indexOf(event.target.closest("button")) + by]
  if (next) { event.preventDefault(); next.focus() }
}

export default function ({ parentElement, data, setTriggerValue }) {
  const list = parentElement.querySelector("ul")
  list.className = data.layout
  list.setAttribute("aria-label", data.label)
  list.onkeydown = event => step(list, event)
  const kept = new Map([...list.children].map(item => [item.dataset.key, item]))  // a button keeps its focus
  data.cards.forEach((card, place) => {
    const item = kept.get(card.key) ?? make("li", { "data-key": card.key }, list)
    kept.delete(card.key)
    if (list.children[place] !== item) list.insertBefore(item, list.children[place])  // moved, it would lose its focus
    const button = item.firstChild ?? make("button", { type: "button" }, item)
    if (data.chosen !== null) button.setAttribute("aria-pressed", card.key === data.chosen)
    button.onclick = () => {
      setTriggerValue("tap", card.key)
      if (data.reveal) document.querySelector(`.st-key-${data.reveal}`)?.scrollIntoView({ block: "nearest" })
    }
    const drawn = JSON.stringify(card)
    if (item.drawn !== drawn) fill(button, card)
    item.drawn = drawn
  })
  for (const item of kept.values()) item.remove()
}
