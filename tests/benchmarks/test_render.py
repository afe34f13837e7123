"""Drawing a 600 pixel piece, as a ratio to Pillow's own resizing of such a picture (LANCZOS, from 1200)."""

from PIL import Image

from colormatch.render import piece_picture
from tests.benchmarks.stopwatch import seconds


def test_piece_picture(benchmark):
    def draw():
        return piece_picture("bowl", "swirled", (52, 18, 20), (70, 1, 3), state="wet", size=600)

    draw()  # the scene's geometry is kept between pictures of one form
    benchmark.pedantic(draw, rounds=5)
    large = Image.new("RGB", (1200, 1200), (120, 90, 80))
    baseline = seconds(lambda: large.resize((600, 600), Image.Resampling.LANCZOS))
    own = seconds(draw)
    print(f"\n600 px piece: {own * 1e3:.0f} ms, {own / baseline:.1f} x a LANCZOS resize ({baseline * 1e3:.1f} ms)")
