// Marking regions and chart corners on a photograph: mouse, touch and keyboard.
// Every coordinate is a fraction 0..1 of the picture's width or height.
// A mark is [x0, y0, x1, y1] (kind "box") or eight numbers, four corners clockwise (kind "corners").

const TAP = 0.012        // a movement shorter than this is a tap
const TAP_BOX = 0.07     // half the width of the box a tap places
const STEP = 0.0025, BIG_STEP = 0.02

const clamp = (v, low = 0, high = 1) => Math.min(high, Math.max(low, v))
const ordered = ([a, b, c, d]) => [Math.min(a, c), Math.min(b, d), Math.max(a, c), Math.max(b, d)]
const make = (tag, attributes, parent) => {
  const svg = ["svg", "polygon", "polyline"].includes(tag)
  const node = svg ? document.createElementNS("http://www.w3.org/2000/svg", tag) : document.createElement(tag)
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value)
  parent.appendChild(node)
  return node
}

class Marking {
  constructor(root) {
    this.marks = {}
    this.root = root
    this.bar = root.querySelector(".tools")
    this.stage = root.querySelector(".stage")
    this.image = root.querySelector("img")
    this.overlay = root.querySelector("svg")
    this.handles = root.querySelector(".handles")
    this.loupe = root.querySelector(".loupe")
    this.hint = root.querySelector(".hint")
    this.other = root.querySelector(".quiet")
    this.stage.addEventListener("pointerdown", event => this.press(event))
    this.stage.addEventListener("pointermove", event => this.move(event))
    this.stage.addEventListener("pointerup", event => this.release(event))
    this.stage.addEventListener("pointercancel", () => this.drop())
    this.handles.addEventListener("keydown", event => this.key(event))
  }

  load({ photo, image, tools, start, revision }) {
    const again = this.photo === photo && this.revision === revision
    if (this.photo !== photo) { this.image.src = image; this.loupe.style.backgroundImage = `url(${image})` }
    this.tools = tools
    if (!tools.some(tool => tool.name === this.active?.name)) this.active = tools[0]
    else this.active = tools.find(tool => tool.name === this.active.name)
    if (!again) this.marks = structuredClone(start)
    Object.assign(this, { photo, revision })
    this.draw()
  }

  // -- pointer ---------------------------------------------------------------------------------

  at(event) {
    const box = this.image.getBoundingClientRect()
    return [clamp((event.clientX - box.left) / box.width), clamp((event.clientY - box.top) / box.height)]
  }

  press(event) {
    if (event.button > 0 || this.drag) return
    event.preventDefault()
    this.stage.setPointerCapture(event.pointerId)
    const point = this.at(event), mark = this.marks[this.active.name]
    const handle = event.target.dataset?.handle
    this.drag = { from: point, before: mark && [...mark], moved: false }
    if (handle !== undefined) { this.drag.handle = handle; event.target.focus() }
    else if (this.active.kind === "corners") this.drag.handle = this.corner(point)
    else if (mark && this.inside(point, mark)) this.drag.handle = "all"
    this.magnify(event)
  }

  move(event) {
    if (!this.drag) return
    const point = this.at(event), { from, handle, before } = this.drag
    const dx = point[0] - from[0], dy = point[1] - from[1]
    if (!this.drag.moved && Math.hypot(dx, dy) < TAP) return
    this.drag.moved = true
    if (handle === undefined) this.marks[this.active.name] = ordered([...from, ...point])
    else if (this.active.kind === "corners") this.place(handle, point)
    else this.shift(handle, dx, dy, before)
    this.magnify(event)
    this.draw()
  }

  release(event) {
    if (!this.drag) return
    const { moved, handle, from } = this.drag
    const tapped = !moved && this.active.kind === "box" && (handle === undefined || handle === "all")
    if (tapped) this.marks[this.active.name] = this.around(from)
    this.drop()
    this.draw()
    this.tell()
  }

  drop() { this.drag = undefined; this.loupe.hidden = true }

  inside([x, y], [x0, y0, x1, y1]) { return x > x0 && x < x1 && y > y0 && y < y1 }

  around([x, y]) {
    const box = this.image.getBoundingClientRect()
    const half = [TAP_BOX, TAP_BOX * box.width / box.height]
    return [clamp(x - half[0]), clamp(y - half[1]), clamp(x + half[0]), clamp(y + half[1])]
  }

  // The corner a press on the picture means: the next one to set, or the nearest of the four.
  corner(point) {
    const mark = this.marks[this.active.name] ??= []
    if (mark.length < 8) { mark.push(...point); this.draw(); return mark.length / 2 - 1 }
    const far = [0, 1, 2, 3].map(i => Math.hypot(mark[2 * i] - point[0], mark[2 * i + 1] - point[1]))
    const nearest = far.indexOf(Math.min(...far))
    this.place(nearest, point)
    this.draw()
    return nearest
  }

  place(index, [x, y]) { this.marks[this.active.name].splice(2 * index, 2, clamp(x), clamp(y)) }

  // Move a box, or one of its corners ("00", "10", "11", "01": which x, which y).
  shift(handle, dx, dy, [x0, y0, x1, y1]) {
    if (handle === "all") {
      dx = clamp(dx, -x0, 1 - x1); dy = clamp(dy, -y0, 1 - y1)
      this.marks[this.active.name] = [x0 + dx, y0 + dy, x1 + dx, y1 + dy]
      return
    }
    const box = [x0, y0, x1, y1], ix = handle[0] === "0" ? 0 : 2, iy = handle[1] === "0" ? 1 : 3
    box[ix] = clamp(box[ix] + dx); box[iy] = clamp(box[iy] + dy)
    this.marks[this.active.name] = this.drag ? ordered(box) : box[0] < box[2] && box[1] < box[3] ? box : [x0, y0, x1, y1]
  }

  // A finger hides what it points at: show it enlarged in the corner that is free.
  magnify(event) {
    if (this.active.kind !== "corners" && this.drag.handle === undefined) return
    const box = this.image.getBoundingClientRect(), [x, y] = this.at(event), zoom = 4, half = 60
    Object.assign(this.loupe.style, {
      backgroundSize: `${box.width * zoom}px ${box.height * zoom}px`,
      backgroundPosition: `${half - x * box.width * zoom}px ${half - y * box.height * zoom}px`,
      left: x < 0.5 ? "auto" : "4px", right: x < 0.5 ? "4px" : "auto",
    })
    this.loupe.hidden = false
  }

  // -- keyboard --------------------------------------------------------------------------------

  key(event) {
    const step = event.shiftKey ? BIG_STEP : STEP
    const [dx, dy] = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key] ?? []
    const handle = event.target.dataset.handle, mark = this.marks[this.active.name]
    if (dx === undefined || handle === undefined) return
    event.preventDefault()
    if (this.active.kind === "corners") this.place(handle, [mark[2 * handle] + dx, mark[2 * handle + 1] + dy])
    else this.shift(handle, dx, dy, mark)
    this.draw()
    clearTimeout(this.soon)
    this.soon = setTimeout(() => this.tell(), 400)
  }

  choose(tool) {
    this.active = tool
    this.draw()
  }

  // For those who do not point: a mark in the middle, to be moved with the arrow keys.
  middle() {
    this.marks[this.active.name] = this.active.kind === "box" ? [0.4, 0.4, 0.6, 0.6] : [0.3, 0.3, 0.7, 0.3, 0.7, 0.7, 0.3, 0.7]
    this.draw()
    this.tell()
    this.handles.querySelector("button")?.focus()
  }

  clear() {
    delete this.marks[this.active.name]
    this.draw()
    this.tell()
  }

  tell() {
    const whole = Object.entries(this.marks).filter(([, mark]) => mark.length === 4 || mark.length === 8)
    this.send("marks", Object.fromEntries(whole.map(([name, mark]) => [name, mark.map(v => +v.toFixed(5))])))
  }

  // -- drawing ---------------------------------------------------------------------------------

  draw() {
    this.drawTools()
    this.overlay.replaceChildren()
    for (const tool of this.tools) {
      const mark = this.marks[tool.name]
      if (!mark?.length) continue
      const points = tool.kind === "box"
        ? [[mark[0], mark[1]], [mark[2], mark[1]], [mark[2], mark[3]], [mark[0], mark[3]]]
        : Array.from({ length: mark.length / 2 }, (_, i) => [mark[2 * i], mark[2 * i + 1]])
      const shape = points.length === 4 ? "polygon" : "polyline", text = points.map(p => p.join(",")).join(" ")
      for (const line of ["dark", "light"]) {
        make(shape, { points: text, class: `${line} ${tool === this.active ? "active" : ""}` }, this.overlay)
      }
    }
    this.drawHandles()
    const mark = this.marks[this.active.name], left = 4 - (mark?.length ?? 0) / 2
    const next = this.active.kind === "corners" && left > 0 && left < 4 ? ` ${left} to go.` : ""
    this.hint.textContent = mark?.length >= 4 ? "Drag it, or tap elsewhere, to measure another part." : this.active.hint + next
  }

  drawTools() {
    this.bar.replaceChildren()
    this.bar.hidden = this.tools.length < 2
    for (const tool of this.tools) {
      const done = this.marks[tool.name]?.length >= 4 ? " ✓" : ""
      const button = make("button", { type: "button", "aria-pressed": tool === this.active }, this.bar)
      button.textContent = tool.label + done
      button.onclick = () => this.choose(tool)
    }
    const has = this.marks[this.active.name]?.length
    this.other.textContent = has ? "Clear this mark" : "Put it in the middle"
    this.other.onclick = () => has ? this.clear() : this.middle()
  }

  drawHandles() {
    const mark = this.marks[this.active.name] ?? []
    const wanted = this.active.kind === "corners"
      ? Array.from({ length: mark.length / 2 }, (_, i) => [String(i), mark[2 * i], mark[2 * i + 1], `corner ${i + 1}`])
      : mark.length ? [
        ["00", mark[0], mark[1], "top left"], ["10", mark[2], mark[1], "top right"],
        ["11", mark[2], mark[3], "bottom right"], ["01", mark[0], mark[3], "bottom left"],
        ["all", (mark[0] + mark[2]) / 2, (mark[1] + mark[3]) / 2, "whole"],
      ] : []
    const kept = new Map([...this.handles.children].map(node => [node.dataset.handle, node]))
    for (const [name, x, y, label] of wanted) {
      const node = kept.get(name) ?? make("button", { type: "button", "data-handle": name }, this.handles)
      kept.delete(name)
      node.setAttribute("aria-label", `${this.active.label}, ${label}: arrow keys move it`)
      node.textContent = this.active.kind === "corners" ? Number(name) + 1 : ""
      node.style.left = `${100 * x}%`
      node.style.top = `${100 * y}%`
    }
    for (const node of kept.values()) node.remove()
  }
}

const alive = new WeakMap()

export default function ({ parentElement, data, setStateValue }) {
  const root = parentElement.querySelector(".marking")
  const marking = alive.get(root) ?? new Marking(root)
  alive.set(root, marking)
  marking.send = setStateValue
  marking.load(data)
}
