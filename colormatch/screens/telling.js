// Runs in the page itself: says what Streamlit's own elements cannot be set from Python.
export default function () {
  const set = (node, name, value) => { if (node.getAttribute(name) !== value) node.setAttribute(name, value) }
  const tell = () => {
    document.querySelectorAll('[class*="st-key-kept-own-number-"] input, [class*="st-key-kept-demo-number-"] input').forEach(input => {
      if (!input.closest('[class*="-number-signed-"]')) set(input, "inputmode", "decimal") // that keypad has no minus
      set(input, "autocomplete", "off")
    })
    document.querySelectorAll(".st-key-places").forEach(places => {
      set(places, "role", "navigation")
      set(places, "aria-label", "Places")
      places.querySelectorAll("a").forEach(link => {
        if (link.closest('[class*="-here"]')) set(link, "aria-current", "page")
        else link.removeAttribute("aria-current")
      })
    })
  }
  tell()
  const watch = new MutationObserver(tell)
  watch.observe(document.body, { childList: true, subtree: true })
  return () => watch.disconnect()
}
