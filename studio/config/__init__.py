"""How an installation is set up: settings, environment, addresses. No rule of the school."""
