"""Addresses of several names, which Streamlit's script would show nothing at."""

import pytest
from raw import request

from colormatch.serving.redirect import ToLastName

A_PAGE = {"accept": "text/html,application/xhtml+xml,*/*;q=0.8"}


async def served(scope, receive, send):
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"served"})


@pytest.mark.parametrize(
    ("asked", "led_to"),
    [
        ("/foo/bar", "/bar"), ("/foo/bar/", "/bar"), ("/a/b/swatches?swatch=rust&library=own",
                                                      "/swatches?swatch=rust&library=own"),
        ("/x//elsewhere", "/elsewhere"),
        (r"/x/\nowhere", "/%5Cnowhere"), ("/x/a\r\nb", "/a%0D%0Ab"),  # no other machine's name, no second header
    ],
)  # fmt: skip
def test_a_browser_is_led_to_the_last_name(asked, led_to):
    answer = request(ToLastName(served), "GET", asked, A_PAGE)
    assert (answer.status, answer.headers["location"]) == (303, led_to)


@pytest.mark.parametrize(
    "asked", ["/", "/swatches", "/media/1a.pdf", "/static/js/index.js", "/_stcore/health", "/_stcore/upload_file/a/b"]
)
def test_pages_files_and_the_servers_own_are_served(asked):
    assert request(ToLastName(served), "GET", asked, A_PAGE).body == b"served"


def test_what_the_page_itself_asks_for_and_what_is_sent_to_it_pass():
    assert request(ToLastName(served), "GET", "/swatches/_stcore/health", {"accept": "*/*"}).body == b"served"
    assert request(ToLastName(served), "POST", "/foo/bar", A_PAGE).body == b"served"
