"""What the server does before it serves."""

import os
import subprocess
import sys

import pytest

UNDER_256 = """
import resource
_, most = resource.getrlimit(resource.RLIMIT_NOFILE)
resource.setrlimit(resource.RLIMIT_NOFILE, (256, most))
from colormatch.serving.server import _raise_handle_limit
_raise_handle_limit()
print(*resource.getrlimit(resource.RLIMIT_NOFILE))
"""


@pytest.mark.skipif(os.name != "posix", reason="handles are limited this way on POSIX")
def test_it_may_have_as_many_files_open_as_its_user_may():
    """With 256, the usual soft limit of one system, the page refused after 81 loads."""
    said = subprocess.run([sys.executable, "-c", UNDER_256], capture_output=True, text=True, check=True)
    soft, hard = said.stdout.split()
    assert soft == hard != "256"
