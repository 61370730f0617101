"""The page's one request of blendkit's own: put a shipped notebook back.

It names a notebook and nothing else, so that it can only write what ships. Jupyter asks for its
token, and for its word against requests of other pages (XSRF), as with every request.
"""

from jupyter_server.base.handlers import APIHandler
from tornado.web import HTTPError, authenticated

from blendkit.foundation import keep
from blendkit.foundation.errors import BlendkitError
from blendkit.workbook.notebooks import FOLDER, put_back


class PutBack(APIHandler):
    """Answers `POST blendkit/put-back`, whose body is `{"notebook": name}`."""

    @authenticated
    def post(self) -> None:
        """Put the notebook back and say which copy holds the former one."""
        asked = self.get_json_body()
        name = asked.get("notebook") if isinstance(asked, dict) else None
        try:
            copy = put_back(keep.home() / FOLDER, name if isinstance(name, str) else "")
        except BlendkitError as error:
            raise HTTPError(400, str(error)) from error
        self.finish({"copy": copy and copy.name})


default_handlers = [("/blendkit/put-back", PutBack)]
