"""What the kit sets in Jupyter itself, so that a control answers at once. Nothing here is needed for right numbers.

- ``nodelay.py``: a Jupyter server extension that sends small messages without waiting for more.
- ``oilkit-server.json``: turns that extension on.
- ``oilkit-lab.json``: asks JupyterLab to send a control's messages straight to the kernel's main thread.

The two JSON files are installed beside Jupyter's own configuration (see ``shared-data`` in pyproject.toml).
"""
