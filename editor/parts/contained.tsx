/** Keeps a mistake of ours in one region from taking the others with it, and says that the sheet is safe. */
import { Component, type ReactNode } from 'react';

interface Properties {
  /** What it is, for the sentence: `The margin`. */
  readonly what: string;
  readonly children: ReactNode;
}

export class Contained extends Component<Properties, { readonly wrong: string | undefined }> {
  override state = { wrong: undefined };

  static getDerivedStateFromError(error: unknown): { wrong: string } {
    return { wrong: error instanceof Error ? error.message : String(error) };
  }

  override render(): ReactNode {
    if (this.state.wrong === undefined) return this.props.children;
    return (
      <div className="notice" role="alert">
        <p>
          {this.props.what} met a mistake of its own: {this.state.wrong}. The sheet is kept.
        </p>
        <button type="button" className="written" onClick={() => this.setState({ wrong: undefined })}>
          Try again
        </button>
      </div>
    );
  }
}
