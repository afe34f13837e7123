// A button for the phone's camera. It asks the uploader beside it for a picture from the camera, so that the
// photograph comes in full size and by the same way as a chosen file. On a desk it is not there.
export default function ({ parentElement, data }) {
  const button = parentElement.querySelector("button")
  button.textContent = data.label
  button.hidden = !matchMedia("(pointer: coarse)").matches
  button.onclick = () => {
    const input = document.querySelector(`.st-key-${data.uploader} input[type="file"]`)
    if (!input) return
    input.setAttribute("capture", "environment")
    input.click()
    input.removeAttribute("capture")
  }
}
